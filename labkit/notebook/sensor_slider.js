/** What a sensor looks at: a hand in the beam, or metal at a distance. */

/** @param {{model: Model, el: HTMLElement}} context */
function render({ model, el }) {
  const tell = commands(model);
  const beam = make("path", { class: "ray", d: "M34 30H150" });
  const thing = make("rect", { class: "thing", x: "0", y: "8", width: "14", height: "44", rx: "2" });
  const led = make("circle", { class: "led", cx: "22", cy: "30", r: "5" });
  const picture = make("svg", { viewBox: "0 0 184 60", width: "184", height: "60", "aria-hidden": "true" },
    make("rect", { class: "body", x: "4", y: "16", width: "30", height: "28", rx: "3" }), led, beam,
    make("rect", { class: "mirror", x: "150", y: "14", width: "6", height: "32" }), thing);
  const name = make("span", { class: "lk-name" });
  const label = make("span", { class: "lk-label" });
  const state = make("span", { class: "lk-state", role: "status" });
  const slider = /** @type {HTMLInputElement} */ (make("input", { type: "range", min: "0", step: "0.1" }));
  const metals = /** @type {HTMLSelectElement} */ (make("select", { "aria-label": "metal" },
    ...["steel", "stainless", "brass", "aluminium", "copper"].map((word) => make("option", { value: word }, word))));
  const hand = make("button", { type: "button", class: "lk-action" });
  const near = make("div", { class: "near" }, slider, metals);
  const said = make("p", { class: "lk-said", role: "status" });
  const root = make("div", { class: "lk lk-sensor-slider" },
    make("div", { class: "lk-card" }, make("span", { class: "lk-legend" }, name, label), picture, near, hand, state), said);
  el.append(root);
  for (const control of [slider, metals, hand]) control.addEventListener("keydown", (e) => e.stopPropagation());
  hand.addEventListener("click", () => tell("beam", { blocked: !model.get("blocked") }));
  let dragging = false;
  /** @type {number|undefined} */
  let later;
  const ask = () => {
    later = undefined;
    tell("metal", { mm: Number(slider.value), metal: metals.value });
  };
  slider.addEventListener("input", () => { // many a second while dragged: one message per frame is enough
    dragging = true;
    later ??= requestAnimationFrame(ask);
  });
  slider.addEventListener("change", () => { dragging = false; });
  metals.addEventListener("change", ask);
  const unfollow = follow(model, ["part", "label", "senses", "most_mm", "blocked", "mm", "metal", "on", "said"], () => {
    const isBeam = model.get("senses") === "beam";
    const most = model.get("most_mm");
    const mm = model.get("mm");
    const away = !isBeam && mm >= most;
    const words = isBeam ? (model.get("blocked") ? "beam broken" : "beam free") : away ? "no metal near" : `${model.get("metal")} at ${mm.toFixed(1)} mm`;
    name.textContent = model.get("part");
    label.textContent = model.get("label");
    said.textContent = model.get("said");
    state.textContent = `${words}: its lamp is ${model.get("on") ? "lit" : "dark"}`;
    root.dataset.senses = model.get("senses");
    root.classList.toggle("on", model.get("on"));
    root.classList.toggle("blocked", model.get("blocked"));
    hand.textContent = model.get("blocked") ? "take the hand out" : "break the beam";
    hand.setAttribute("aria-pressed", String(model.get("blocked")));
    slider.max = String(most);
    if (!dragging) slider.value = String(mm);
    slider.setAttribute("aria-label", `distance of the metal from ${model.get("part")}`);
    slider.setAttribute("aria-valuetext", words);
    metals.value = model.get("metal");
    const x = isBeam ? (model.get("blocked") ? 86 : -40) : away ? -40 : 34 + (mm / most) * 110;
    thing.setAttribute("transform", `translate(${x} 0)`);
    thing.setAttribute("visibility", x < 0 ? "hidden" : "visible");
    beam.setAttribute("d", isBeam && model.get("blocked") ? "M34 30H86" : "M34 30H150");
  });
  model.send({ do: "hello" });
  return () => {
    if (later !== undefined) cancelAnimationFrame(later);
    unfollow();
  };
}

export default { render };
