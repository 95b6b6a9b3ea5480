def run(case):
    plain = ["engine.egr_idle=0", "engine.egr_full=0", "engine.charge_temperature_rise=0 K", "ambient.temperature=25 degC",
             "ambient.humidity=0"]
    r = case.run("case.yaml", *plain)
    case.claim("air", r.end("exhaust.flow") - r.end("engine.fuel"))
    r = case.run("case.yaml", *plain, "duty.phases.0.speed=1100 rpm")
    case.claim("air-1100", r.end("exhaust.flow") - r.end("engine.fuel"))
    r = case.run()
    case.claim("fuel", 1e3 * r.end("engine.fuel"))
    case.claim("nox", 3.6e6 * r.end("exhaust.nox"))
    case.claim("t-idle", r.end("turbine.gas_temperature") - 273.15)
    high = case.run("case.yaml", "duty.phases.0.speed=1100 rpm")
    case.claim("t-high", high.end("turbine.gas_temperature") - 273.15)
    full = case.run("case.yaml", "duty.phases.0.speed=1900 rpm", "duty.phases.0.load=100 %")
    case.claim("t-rated", full.end("turbine.gas_temperature") - 273.15)
    p = case.plot("Behind the turbine from a cold start of the metal", "time [min]", "gas [degC]")
    p.line(r.t / 60, r["turbine.gas_temperature"] - 273.15, "650 rpm, no load")
    p.line(high.t / 60, high["turbine.gas_temperature"] - 273.15, "1100 rpm, no load")
