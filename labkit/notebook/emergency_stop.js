/** Emergency stop: red on yellow; press latches, a turn lets go. */

/** @param {{model: Model, el: HTMLElement}} context */
function render({ model, el }) {
  const tell = commands(model);
  const picture = make("svg", { viewBox: "0 0 84 64", width: "84", height: "64", "aria-hidden": "true" },
    make("rect", { class: "ground", x: "8", y: "0", width: "68", height: "64", rx: "3" }),
    make("circle", { class: "collar", cx: "42", cy: "32", r: "27" }), make("circle", { class: "head", cx: "42", cy: "32", r: "24" }),
    make("path", { class: "arrows", d: "M30 28A13 13 0 0 1 54 28M54 28L49 24M54 28L55.5 22M54 37A13 13 0 0 1 30 37M30 37L35 41M30 37L28.5 43" }));
  const name = make("span", { class: "lk-name" });
  const label = make("span", { class: "lk-label" });
  const state = make("span", { class: "lk-state" });
  const press = make("button", { type: "button", class: "mushroom" }, picture);
  const turn = make("button", { type: "button", class: "lk-action" }, "turn to let go");
  const said = make("p", { class: "lk-said", role: "status" });
  const root = make("div", { class: "lk lk-emergency-stop" },
    make("div", { class: "lk-card" }, make("span", { class: "lk-legend" }, name, label), press, state, turn), said);
  el.append(root);
  // a stop acts on going down, not on coming up
  press.addEventListener("pointerdown", (e) => { if (e.button === 0) tell("press"); });
  press.addEventListener("keydown", (e) => {
    if (e.key !== " " && e.key !== "Enter") return;
    e.preventDefault();
    e.stopPropagation();
    if (!e.repeat) tell("press");
  });
  turn.addEventListener("click", () => tell("turn"));
  turn.addEventListener("keydown", (e) => e.stopPropagation());
  const unfollow = follow(model, ["part", "label", "latched", "said"], () => {
    const latched = model.get("latched");
    name.textContent = model.get("part");
    label.textContent = model.get("label");
    state.textContent = latched ? "latched in" : "released";
    said.textContent = model.get("said");
    root.classList.toggle("latched", latched);
    press.setAttribute("aria-label", `emergency stop ${model.get("part")}`);
    press.setAttribute("aria-pressed", String(latched));
    /** @type {HTMLButtonElement} */ (turn).disabled = !latched;
  });
  model.send({ do: "hello" });
  return unfollow;
}

export default { render };
