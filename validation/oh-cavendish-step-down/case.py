def run(case):
    r = case.run()
    hottest = r["cat.hottest"]
    i = hottest.argmax()
    case.claim("peak", hottest[i])
    case.claim("rise", hottest[i] - 750.0)
    case.claim("wrong-way", hottest[i] - 750.0)
    case.claim("time", r.t[i])
    case.claim("place", r["cat.hottest_at"][i])
    p = case.plot("Cold feed into a warm monolith", "time [s]", "wall [K]")
    p.line(r.t, hottest, "hottest").line(r.t, r["cat.face_temperature"], "face").line(r.t, r["cat.rear_temperature"], "rear")
    p.marks([10.1], [991], "peak, Oh & Cavendish 1982")
