import os

HERE = os.path.dirname(os.path.abspath(__file__))
T = 45 * 60.0


def demo(case, name):
    return case.program.run(os.path.join(HERE, "..", "..", "configs", name + ".yaml"))


def run(case):
    near, far = demo(case, "parked-regeneration"), demo(case, "dosing-far-downstream")
    case.claim("ahead", near.at("scr.mean_temperature", T) - near.at("downpipe.gas_temperature", T))
    case.claim("behind", far.at("scr.mean_temperature", T) - far.at("downpipe.gas_temperature", T))
    case.claim("filter", near.at("doc2.gas_temperature", T) - 273.15)
    case.claim("fuel", near.total("dosed_fuel") / 0.85)
    case.claim("outlet", near.at("tailpipe.gas_temperature", T) - 273.15)
    rise = near.at("doc.gas_temperature", T) - near.at("injector.gas_temperature", T)
    case.claim("per-gram", rise / (1e3 * near.at("dosing.fuel", T) / near.at("exhaust.flow", T)))
    book = [b for b in near.report["books"] if b["name"] == "energy"][0]
    case.claim("books", book["relative"]["value"])
    p = case.plot("Reduction catalyst and filter of the same truck", "time [min]", "mean solid [degC]")
    for r, name in ((near, "doser ahead"), (far, "doser behind")):
        p.line(r.t / 60, r["scr.mean_temperature"] - 273.15, "SCR, " + name)
        p.line(r.t / 60, r["dpf.mean_temperature"] - 273.15, "filter, " + name, True)
