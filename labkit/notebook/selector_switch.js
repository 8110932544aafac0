/** Selector switch: a knob between its positions. */

/** @param {{model: Model, el: HTMLElement}} context */
function render({ model, el }) {
  const tell = commands(model);
  const knob = dial((to) => tell("turn", { to }), [
    make("path", { d: "M60 18V24" }), make("rect", { x: "54", y: "22", width: "12", height: "36", rx: "4" })]);
  const name = make("span", { class: "lk-name" });
  const label = make("span", { class: "lk-label" });
  const said = make("p", { class: "lk-said", role: "status" });
  const root = make("div", { class: "lk lk-selector" },
    make("div", { class: "lk-card" }, make("span", { class: "lk-legend" }, name, label), knob.root), said);
  el.append(root);
  const unfollow = follow(model, ["part", "label", "states", "state", "said"], () => {
    name.textContent = model.get("part");
    label.textContent = model.get("label");
    said.textContent = model.get("said");
    knob.show(model.get("states"), model.get("state"), `selector ${model.get("part")} ${model.get("label")}`);
  });
  model.send({ do: "hello" });
  return unfollow;
}

export default { render };
