"""Numbers of the model, read from model.md: the page is the only link between this and the program."""
import os
import re

import numpy as np

R, SIGMA, T0 = 8.31446261815324, 5.670374419e-8, 298.15
ATOMS = np.array([12.011, 1.008, 15.999, 14.007]) * 1e-3
PAGE = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "model.md")


def _rows():
    with open(PAGE, encoding="utf-8") as f:
        for line in f:
            if line.startswith("|"):
                yield [c.strip() for c in line.strip().strip("|").split("|")]


def _species():
    names, atoms, low, high, d0 = [], [], [], [], []
    for r in _rows():
        if len(r) == 11 and r[2] == "low":
            names.append(r[0])
            atoms.append([float(x) for x in r[1].split()])
            low.append([float(x) for x in r[3:10]])
            d0.append(float(r[10]))
        elif len(r) == 11 and r[2] == "high":
            high.append([float(x) for x in r[3:10]])
    return names, np.array(atoms), np.array(low), np.array(high), np.array(d0)


NAMES, ELEMENTS, LOW, HIGH, D0 = _species()
INDEX = {n: i for i, n in enumerate(NAMES)}
MASS = ELEMENTS @ ATOMS
NGAS = len(NAMES) - 2  # urea and soot come last and fill no volume


def _stoichiometry(text):
    nu = [0.0] * len(NAMES)
    for word in text.split():
        name, value = word.split("=")
        nu[INDEX[name]] = float(value)
    return nu


def _orders(text):
    out = []
    for word in text.split():
        name, _, order = word.partition("^")
        out.append((INDEX[name], float(order or 1)))
    return out


def oxidation():
    """Dictionaries with nu, orders, A, E, inhibited, reversible."""
    out = []
    for r in _rows():
        if len(r) == 7 and r[5] in ("yes", "no", "reversible"):
            out.append(dict(nu=_stoichiometry(r[1]), orders=_orders(r[2]), A=float(r[3]), E=float(r[4]), store=0, alpha=0.0,
                            inhibited=r[5] == "yes", reversible=r[5] == "reversible", sites=False, gain=0))
    return out


def reduction(kind="copper"):
    column = {"copper": 4, "iron": 5, "vanadia": 6}[kind]
    out = []
    for r in _rows():
        if len(r) == 7 and re.match(r"^(adsorption|desorption|standard|fast|NO2|N2O|NH3 oxidation|HNCO)", r[0]) and "=" in r[1]:
            A, E = (float(x) for x in (r[4] if r[column] == "same" else r[column]).split(","))
            gain = int(r[2] or 0)
            store = -1 if "1 - theta" in r[0] else 0 if r[0].startswith("HNCO") else 1
            out.append(dict(nu=_stoichiometry(r[1].replace("+", "")), orders=_orders(r[3]), A=A, E=E, store=store,
                            alpha=0.98 if "alpha" in r[0] else 0.0, inhibited=False, reversible=False,
                            sites="per site" in r[0], gain=gain,
                            concentration="concentration" in r[0]))
    return out
