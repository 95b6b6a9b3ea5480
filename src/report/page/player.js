// player.js - the one moment that every picture shows: slider, play button, keyboard.
const PLAY_SECONDS = 24;

function buildPlayer(node) {
  const step = Math.max(now.end / 1000, 0.1);
  const slider = make("input", { type: "range", id: "time", min: 0, max: now.end, step, "aria-label": "Time in the run" });
  const play = make("button", { type: "button", id: "play", "aria-pressed": "false" }, "▶ Play");
  const shown = make("output", { for: "time", id: "clock" });
  let playing = false, last = 0;

  function stop() {
    playing = false;
    play.setAttribute("aria-pressed", "false");
    play.textContent = "▶ Play";
  }
  function frame(ms) {
    if (!playing) { return; }
    setTime(now.t + Math.min(ms - last, 200) / 1000 * now.end / PLAY_SECONDS);
    last = ms;
    if (now.t >= now.end) { stop(); } else { requestAnimationFrame(frame); }
  }
  function toggle() {
    if (playing) { stop(); return; }
    if (now.t >= now.end) { setTime(0); }
    playing = true;
    play.setAttribute("aria-pressed", "true");
    play.textContent = "❚❚ Pause";
    requestAnimationFrame((ms) => { last = ms; frame(ms); });
  }
  slider.addEventListener("input", () => { stop(); setTime(Number(slider.value)); });
  slider.addEventListener("keydown", (e) => { if (e.key === " ") { e.preventDefault(); toggle(); } });
  play.addEventListener("click", toggle);
  on("time", () => {
    slider.value = now.t;
    shown.textContent = clock(now.t);
    slider.setAttribute("aria-valuetext", clock(now.t) + hottestWords());
  });
  node.append(make("div", { class: "player" }, play, slider, shown),
    make("p", { class: "quiet screen" }, "Slide, or play. With the slider chosen: arrow keys move it, Space plays. " +
      "A click on any chart or map below moves it too."));
}

function hottestWords() {
  return data.cases.map((c) => {
    let best = null;
    for (const p of c.places) {
      const T = bricks.includes(p.kind) ? valueAt(c, p.name + ".mean_temperature", now.t) : null;
      if (T !== null && (best === null || T > best.T)) { best = { T, name: p.name }; }
    }
    return best ? ", hottest brick " + best.name + " " + sayBoth(best.T) : "";
  }).join("; ");
}

function setTime(t) {
  now.t = Math.min(Math.max(t, 0), now.end);
  tell("time");
}
