"""Figures of a case in SI. Defaults come from `emberpipe explain`, what the case changes from the caller, with units."""
import math
import subprocess

UNITS = {"": 1, "-": 1, "%": .01, "ppm": 1e-6, "m": 1, "cm": .01, "mm": 1e-3, "in": .0254, "L": 1e-3, "m2": 1, "kg": 1, "g": 1e-3,
         "kg/s": 1, "g/s": 1e-3, "g/s2": 1e-3, "g/(s K)": 1e-3, "g/(s2 K)": 1e-3, "kg/m3": 1, "g/L": 1, "s": 1, "min": 60,
         "h": 3600, "K": 1, "J/(kg K)": 1, "J/(kg K2)": 1, "J K/kg": 1, "kJ/kg": 1e3, "kJ/K": 1e3, "kJ/mol": 1e3, "J/(m2 K)": 1,
         "W/(m2 K)": 1, "W/(m K)": 1, "m2 K/W": 1, "mol/m3": 1, "1/s": 1, "1/m": 1, "1/m2": 1, "cpsi": 1 / .0254**2, "Pa": 1,
         "kPa": 1e3, "Pa s/rad": 1, "rpm": math.pi / 30, "N m": 1, "kW": 1e3, "g/kg": 1e-3, "m/s": 1, "km/h": 1 / 3.6}


def si(text):
    """'12 in' -> 0.3048; words stay words."""
    if not isinstance(text, str):
        return text
    number, _, unit = text.strip().partition(" ")
    try:
        value = float(number)
    except ValueError:
        return {"yes": True, "no": False}.get(text, text)
    return value + 273.15 if unit == "degC" else value * UNITS[unit]


class Defaults:
    def __init__(self, program):
        text = subprocess.run([program, "explain"], capture_output=True, text=True, timeout=60, check=True).stdout
        self.value, key = {}, ""
        for line in text.split("\n"):
            if line and not line[0].isspace():
                key = line.strip()
            elif line.startswith("    default"):
                self.value[key] = line.split(None, 1)[1].strip()

    def block(self, prefix, **changes):
        """All keys below a prefix, with changes; nested blocks are dictionaries given by the caller."""
        out = {}
        for key, text in self.value.items():
            name = key[len(prefix) + 1:]
            if key.startswith(prefix + ".") and "." not in name and not text.startswith(("unset", "none: must", "empty")):
                out[name] = si(text)
        out.update({k: v if isinstance(v, dict) else si(v) for k, v in changes.items()})
        return out
