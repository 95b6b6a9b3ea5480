"""Makes the demo log: make_log.py PROGRAM > configs/quickstart-log.csv (from the top folder).

The quickstart case with a doser that delivers 65 % of what is commanded, told as a recorder would: names of
SAE J1939 signals, 5 s between rows, noise, and a stretch in which one sensor says nothing. All invented.
"""
import csv, io, random, subprocess, sys

DELIVERY = 0.65
random.seed(20)
out = subprocess.run([sys.argv[1], "run", "configs/quickstart.yaml", "--format", "csv", "--set", "output.interval=5 s",
                      "--set", f"line.injector.delivery={100 * DELIVERY:g} %"], check=True, capture_output=True,
                     text=True).stdout
rows = list(csv.reader(io.StringIO(out)))
at = {name.split(" ")[0]: i for i, name in enumerate(rows[0])}
# (header, column of the run, factor, shift, noise, digits)
signals = [
    ("Engine Speed [rpm]", "engine.speed", 9.549297, 0, 4, 0),
    ("Aftertreatment 1 Exhaust Gas Mass Flow Rate [kg/h]", "exhaust.flow", 3600, 0, 3, 1),
    ("Engine Exhaust Gas Temperature [degC]", "exhaust.temperature", 1, -273.15, 1, 1),
    ("Aftertreatment 1 Fuel Rate [g/s]", "injector.rate", 1000 / DELIVERY, 0, 0, 3),
    ("Aftertreatment 1 Diesel Oxidation Catalyst Outlet Gas Temperature [degC]", "doc.gas_temperature", 1, -273.15, 2, 1),
    ("Aftertreatment 1 Diesel Particulate Filter Outlet Gas Temperature [degC]", "dpf.gas_temperature", 1, -273.15, 2, 1),
]
print("time [s]," + ",".join(s[0] for s in signals))
for row in rows[1:]:
    t = float(row[0])
    if t > 2400:
        break
    cells = [f"{t:g}"]
    for name, column, factor, shift, noise, digits in signals:
        value = float(row[at[column]]) * factor + shift + (random.gauss(0, noise) if noise else 0)
        silent = column == "dpf.gas_temperature" and 600 <= t <= 660
        cells.append("" if silent else f"{max(value, 0) if noise == 0 else value:.{digits}f}")
    print(",".join(cells))
