"""A claim: what a source says, what the program says, and how far they may differ."""
import csv
import math
from dataclasses import dataclass, field

STANDINGS = {
    "exact": "mathematics: a closed-form or converged solution",
    "read": "read in the source or in a public copy of it",
    "second hand": "read in a transcription of the source",
    "from memory": "quoted from memory; the source is named",
    "computed": "computed here from the formula or the coefficients named",
    "calibrated": "the model was fitted to this figure: agreement is no proof",
}


@dataclass
class Claim:
    id: str
    text: str
    unit: str
    standing: str
    source: str
    reference: float = math.nan
    low: float = -math.inf    # a published band instead of a number
    high: float = math.inf
    atol: float = 0.0
    rtol: float = 0.0
    probe: str = ""           # call of the probe that yields `here`
    headline: bool = False    # shown in the table of README.md
    known: str = ""           # why it is known not to hold; then holding is what fails, so that the list stays true
    here: float = math.nan

    def is_band(self):
        return math.isnan(self.reference)

    def limit(self):
        """Largest difference allowed; a band has none."""
        return self.atol + self.rtol * abs(self.reference)

    def difference(self):
        """From the reference, or from the nearer edge of the band (0 inside it)."""
        if self.is_band():
            return min(self.here - self.low, 0.0) + max(self.here - self.high, 0.0)
        return self.here - self.reference

    def holds(self):
        if not math.isfinite(self.here) or (self.is_band() and math.isinf(self.low) and math.isinf(self.high)):
            return False  # also if the reference was to be computed and was not
        if self.is_band():
            return self.low <= self.here <= self.high
        return abs(self.difference()) <= self.limit()

    def passed(self):
        """What the test asks: it holds, or it is known not to."""
        return math.isfinite(self.here) and self.holds() != bool(self.known)

    def verdict(self):
        return "FAIL" if not self.passed() else "known deviation" if self.known else "pass"

    def expected(self):
        if not self.is_band():
            return number(self.reference)
        if math.isinf(self.high):
            return f"at least {number(self.low)}"
        if math.isinf(self.low):
            return f"at most {number(self.high)}"
        return f"{number(self.low)} to {number(self.high)}"

    def tolerance(self):
        return "inside" if self.is_band() else number(self.limit(), 2)


def number(v, digits=5, keep=False):
    """A number as a person writes it: few digits, no exponent while it can be read without. keep: trailing zeros stay."""
    if v is None or not math.isfinite(v):
        return "none"
    if v == 0.0:
        return "0"
    size = math.floor(math.log10(abs(v)))
    if -4 <= size < 6:
        text = f"{v:.{max(digits - 1 - size, 0)}f}"
        return text.rstrip("0").rstrip(".") if "." in text and not keep else text
    return f"{v:.{digits - 1}e}"


def load_claims(path):
    """Rows of claims.csv; a column that a row leaves empty keeps its default."""
    claims = []
    with open(path, encoding="utf-8", newline="") as f:
        for row in csv.DictReader(line for line in f if not line.startswith("#")):
            values = {k: v.strip() for k, v in row.items() if k and v and v.strip()}
            for key in ("reference", "low", "high", "atol", "rtol"):
                if key in values:
                    values[key] = float(values[key])
            values["headline"] = values.get("headline") == "yes"
            claim = Claim(**values)
            if claim.standing not in STANDINGS:
                raise ValueError(f"{path}: claim '{claim.id}': standing '{claim.standing}' is none of "
                                 + ", ".join(STANDINGS))
            bounded = math.isfinite(claim.low) or math.isfinite(claim.high)
            if not bounded and claim.atol == 0.0 and claim.rtol == 0.0:
                raise ValueError(f"{path}: claim '{claim.id}' has no limit, so it could not fail")
            claims.append(claim)
    return claims
