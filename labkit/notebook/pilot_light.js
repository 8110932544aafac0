/** Pilot light or horn: rays and a word first, colour second. */

/** @param {{model: Model, el: HTMLElement}} context */
function render({ model, el }) {
  const rays = make("g", { class: "rays" });
  for (let k = 0; k < 12; k += 1) {
    rays.append(make("line", { x1: "42", y1: "2", x2: "42", y2: "9", transform: `rotate(${30 * k} 42 30)` }));
  }
  const lamp = make("g", { class: "lamp" },
    make("circle", { class: "face", cx: "42", cy: "30", r: "17" }),
    make("path", { class: "cross", d: "M30 18L54 42M54 18L30 42" })); // IEC 60617 lamp
  const horn = make("g", { class: "horn" },
    make("path", { class: "face", d: "M28 46H56L50 18H34Z" }),
    make("path", { class: "cross", d: "M24 46H60" }));
  const picture = make("svg", { viewBox: "0 -8 84 80", width: "84", height: "80", "aria-hidden": "true" }, rays, lamp, horn);
  const name = make("span", { class: "lk-name" });
  const label = make("span", { class: "label" });
  const state = make("span", { class: "lk-state" });
  const sheet = make("div", { class: "lk-card", role: "status", tabindex: "0" },
    make("span", { class: "lk-legend" }, name, label), picture, state);
  const root = make("div", { class: "lk lk-pilot-light" }, sheet);
  el.append(root);
  const unfollow = follow(model, ["lit", "part", "label", "colour", "kind"], () => {
    const lit = model.get("lit");
    const isHorn = model.get("kind") === "horn";
    const word = isHorn ? (lit ? "sounding" : "silent") : (lit ? "lit" : "dark");
    name.textContent = model.get("part");
    label.textContent = model.get("label");
    state.textContent = word;
    root.dataset.colour = model.get("colour");
    root.dataset.kind = model.get("kind");
    root.classList.toggle("lit", lit);
    sheet.setAttribute("aria-label", `${isHorn ? "horn" : "lamp"} ${model.get("part")} ${model.get("label")}: ${word}`);
  });
  model.send({ do: "hello" });
  return unfollow;
}

export default { render };
