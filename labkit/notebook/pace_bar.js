/** How the bench's time goes. */

/** @param {{model: Model, el: HTMLElement}} context */
function render({ model, el }) {
  const tell = commands(model);
  const go = make("button", { type: "button", class: "lk-action" });
  const scan = make("button", { type: "button", class: "lk-action", title: "Pause, and let one scan of the controller pass" }, "One scan");
  const speeds = [1, 0.1, 0.01].map((speed) => {
    const choice = make("button", { type: "button", role: "radio", class: "lk-action" }, speed === 1 ? "real time" : `1/${1 / speed}`);
    choice.addEventListener("click", () => tell("speed", { speed }));
    return { speed, choice };
  });
  const choices = make("span", { role: "radiogroup", "aria-label": "speed", class: "speeds" }, ...speeds.map((s) => s.choice));
  choices.addEventListener("keydown", (/** @type {KeyboardEvent} */ e) => {
    const step = { ArrowLeft: -1, ArrowUp: -1, ArrowRight: 1, ArrowDown: 1 }[e.key];
    if (!step) return;
    e.preventDefault();
    const k = speeds.findIndex((s) => s.choice === document.activeElement);
    const next = speeds[Math.max(0, Math.min(speeds.length - 1, k + step))];
    next.choice.focus();
    tell("speed", { speed: next.speed });
  });
  const time = make("span", { class: "time" });
  const state = make("span", { class: "state", role: "status" });
  const said = make("p", { class: "lk-said", role: "status" });
  const root = make("div", { class: "lk lk-pace-bar" },
    make("div", { class: "bar", role: "toolbar", "aria-label": "bench time" }, go, scan, choices, time, state), said);
  root.addEventListener("keydown", (e) => e.stopPropagation());
  el.append(root);
  go.addEventListener("click", () => tell(model.get("pace") === "live" ? "pause" : "start"));
  scan.addEventListener("click", () => tell("scan"));
  const unfollow = follow(model, ["pace", "speed", "now_ms", "late_ms", "said"], () => {
    const pace = model.get("pace");
    const late = model.get("late_ms");
    go.textContent = pace === "live" ? "Pause" : "Run";
    time.textContent = `${(model.get("now_ms") / 1000).toFixed(pace === "live" && model.get("speed") === 1 ? 1 : 3)} s`;
    const words = { live: "live", paused: "time stands still", stopped: "time is moved by code", failed: "stopped by an error" }[pace];
    const text = late > 20 ? `${words}; the kernel was busy for ${(late / 1000).toFixed(1)} s` : words;
    if (state.textContent !== text) state.textContent = text;
    said.textContent = model.get("said");
    root.dataset.pace = pace;
    for (const { speed, choice } of speeds) {
      const here = Math.abs(speed - model.get("speed")) < 1e-9;
      choice.setAttribute("aria-checked", String(here));
      /** @type {HTMLElement} */ (choice).tabIndex = here ? 0 : -1;
    }
  });
  model.send({ do: "hello" });
  return unfollow;
}

export default { render };
