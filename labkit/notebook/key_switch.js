/** Key switch: a knob that turns only with its key in. */

/** @param {{model: Model, el: HTMLElement}} context */
function render({ model, el }) {
  const tell = commands(model);
  const bow = make("g", { class: "bow" }, make("circle", { cx: "60", cy: "24", r: "7" }), make("path", { d: "M60 31V52M60 46H66" }));
  const slot = make("path", { class: "slot", d: "M60 30V50" });
  const knob = dial((to) => tell("key", { on: to === "on" }), [slot, bow]);
  const name = make("span", { class: "lk-name" });
  const label = make("span", { class: "lk-label" });
  const take = make("button", { type: "button", class: "lk-action" });
  const said = make("p", { class: "lk-said", role: "status" });
  const root = make("div", { class: "lk lk-key-switch" },
    make("div", { class: "lk-card" }, make("span", { class: "lk-legend" }, name, label), knob.root, take), said);
  el.append(root);
  take.addEventListener("click", () => tell("insert", { inserted: !model.get("inserted") }));
  take.addEventListener("keydown", (e) => e.stopPropagation());
  const unfollow = follow(model, ["part", "label", "on", "inserted", "said"], () => {
    const inserted = model.get("inserted");
    name.textContent = model.get("part");
    label.textContent = model.get("label");
    said.textContent = model.get("said");
    root.classList.toggle("empty", !inserted);
    take.textContent = inserted ? "take the key out" : "put the key in";
    /** @type {HTMLButtonElement} */ (take).disabled = inserted && model.get("on");
    knob.show(["off", "on"], model.get("on") ? "on" : "off", `key switch ${model.get("part")} ${model.get("label")}`, inserted);
  });
  model.send({ do: "hello" });
  return unfollow;
}

export default { render };
