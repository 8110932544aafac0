/** Push button: press, hold, let go. The drawn contact moves with it. */

/** @param {boolean} normallyOpen @param {boolean} down */
function contactPath(normallyOpen, down) {
  // IEC 60617 make and break contact, lying; the blade rests open or closed and moves when pressed
  if (normallyOpen) return down ? "M4 58H28M56 58H80M28 58H56" : "M4 58H28M56 58H80M28 58L54 46";
  return down ? "M4 58H28M56 58H80M28 58L52 76M56 58V68" : "M4 58H28M56 58H80M28 58L60 69M56 58V68";
}

/** @param {{model: Model, el: HTMLElement}} context */
function render({ model, el }) {
  const tell = commands(model);
  const face = make("circle", { class: "face", cx: "42", cy: "22", r: "17" });
  const contact = make("path", { class: "contact" });
  const picture = make("svg", { viewBox: "0 0 84 80", width: "84", height: "80", "aria-hidden": "true" },
    make("circle", { class: "collar", cx: "42", cy: "22", r: "20" }), face, contact);
  const name = make("span", { class: "lk-name" });
  const label = make("span", { class: "label" });
  const state = make("span", { class: "lk-state" });
  const button = make("button", { type: "button", class: "lk-card" }, make("span", { class: "lk-legend" }, name, label), picture, state);
  const said = make("p", { class: "lk-said", role: "status" });
  const root = make("div", { class: "lk lk-hold-button" }, button, said);
  el.append(root);

  let asked = false; // what this view's finger does; the trait says what the bench's button does
  /** @type {number|undefined} */
  let waiting;
  const draw = () => {
    const down = model.get("down") && !root.classList.contains("lk-past");
    const part = model.get("part");
    name.textContent = part;
    label.textContent = model.get("label");
    root.dataset.colour = model.get("colour");
    root.classList.toggle("down", down || asked);
    const late = asked !== down;
    clearTimeout(waiting);
    state.textContent = down ? "pressed" : "released";
    if (late && asked) waiting = setTimeout(() => { state.textContent = "kernel is busy"; }, 700);
    contact.setAttribute("d", contactPath(model.get("contact") === "NO", down || asked));
    button.setAttribute("aria-pressed", String(down || asked));
    button.setAttribute("aria-label", `${part} ${model.get("label")}`.trim() || "push button");
    button.title = "Hold: press and keep. Shift+press: stays down until the next press.";
    said.textContent = model.get("said");
  };
  const letGo = holdable(button, (down, how) => {
    asked = down;
    tell(down ? "press" : "release", how);
    draw();
  }, { latch: () => model.get("latch"), beat: () => tell("beat") });
  button.addEventListener("lk-gone", draw);
  const unfollow = follow(model, ["down", "part", "label", "colour", "contact", "said"], draw);
  model.send({ do: "hello" });
  return () => {
    clearTimeout(waiting);
    letGo();
    unfollow();
  };
}

export default { render };
