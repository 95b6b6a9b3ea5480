"""Section 7 of model.md: the regeneration sequence."""


class Regeneration:
    def __init__(self, c):
        self.c, self.stage, self.since, self.rate, self.integral, self.cold = c, "off", 0.0, 0.0, 0.0, None

    def begin(self, t):
        self.stage, self.since, self.rate, self.integral, self.cold = "warming up", t, 0.0, 0.0, None

    def enter(self, stage, t):
        self.stage, self.since = stage, t
        if stage != "dosing":
            self.rate = self.integral = 0.0

    def running(self):
        return self.stage in ("warming up", "dosing", "cooling down")

    def sample(self, t, face, hold, soot, hottest, heat_flow):
        c = self.c
        if self.stage in ("warming up", "dosing") and hottest > c["abort_temperature"]:
            self.enter("given up", t)
        elif self.stage == "warming up":
            if face >= c["enable_temperature"]:
                self.enter("dosing", t)
            elif t - self.since > c["warmup_limit"]:
                self.enter("given up", t)
        elif self.stage == "dosing":
            self.dose(t, face, hold, soot, heat_flow)
        elif self.stage == "cooling down" and t - self.since > c["cooldown"]:
            self.enter("done", t)

    def dose(self, t, face, hold, soot, heat_flow):
        c = self.c
        cold = face < c["enable_temperature"] - 20.0
        self.cold = (self.cold if self.cold is not None else t) if cold else None
        if soot <= c["stop_soot"] or t - self.since > c["time_limit"]:
            self.enter("cooling down", t)
        elif cold and t - self.cold > c["fade_time"]:
            self.enter("given up", t)
        elif cold:
            self.rate = 0.0
        else:
            error = c["target_temperature"] - hold
            integral = self.integral + c["integral"] * error * c["sample"]
            want = heat_flow * (c["target_temperature"] - face) / 43.098e6 + c["gain"] * error + integral
            if (want > 0 or error > 0) and (want < c["max_rate"] or error < 0):
                self.integral = integral
            step = c["slew"] * c["sample"]
            self.rate = min(max(min(max(want, 0.0), c["max_rate"]), self.rate - step), self.rate + step)
