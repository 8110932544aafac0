/** The hand-held meter: two leads, a range, a prediction, a log. */

/** @param {{model: Model, el: HTMLElement}} context */
function render({ model, el }) {
  const tell = commands(model);
  const listId = `lk-terminals-${Math.random().toString(36).slice(2)}`;
  const list = make("datalist", { id: listId });
  const lead = (/** @type {string} */ colour) => {
    const box = /** @type {HTMLInputElement} */ (make("input", { list: listId, size: "10", placeholder: "terminal", spellcheck: "false", autocomplete: "off" }));
    box.addEventListener("change", () => tell("lead", { lead: colour, on: box.value.trim() }));
    return box;
  };
  const red = lead("red");
  const black = lead("black");
  const wireListId = `${listId}-wires`;
  const wireList = make("datalist", { id: wireListId });
  const clamp = /** @type {HTMLInputElement} */ (make("input", { list: wireListId, size: "10", placeholder: "wire no.", spellcheck: "false", autocomplete: "off" }));
  clamp.addEventListener("change", () => tell("clamp", { on: clamp.value.trim() }));
  const modes = ["volts", "ohms", "continuity", "diode", "amps"].map((mode) => {
    const choice = make("button", { type: "button", role: "radio", class: "lk-action" }, { volts: "V DC", ohms: "\u03a9", continuity: "beep", diode: "diode", amps: "A clamp" }[mode] || mode);
    choice.addEventListener("click", () => tell("mode", { mode }));
    return { mode, choice };
  });
  const range = make("span", { role: "radiogroup", "aria-label": "range", class: "range" }, ...modes.map((m) => m.choice));
  const display = make("output", { class: "display", "aria-live": "polite" });
  const warning = make("p", { class: "warning", role: "status" });
  const guess = /** @type {HTMLInputElement} */ (make("input", { size: "10", placeholder: "value" }));
  const noteIt = make("button", { type: "button", class: "lk-action" }, "Note it");
  const swap = make("button", { type: "button", class: "lk-action" }, "Swap leads");
  const body = make("tbody");
  const log = make("div", { class: "log", tabindex: "0", role: "region", "aria-label": "log of readings" }, make("table", {}, make("thead", {}, make("tr", {}, ...["ms", "range", "red", "black", "expected", "reading"].map((t) => make("th", { scope: "col" }, t)))), body));
  const said = make("p", { class: "lk-said", role: "status" });
  const leads = make("div", { class: "row" }, make("label", { class: "red" }, "red ", red), make("label", { class: "black" }, "black ", black), swap);
  const around = make("div", { class: "row" }, make("label", {}, "clamp around wire ", clamp));
  const root = make("div", { class: "lk lk-meter-view" }, list, wireList,
    make("div", { class: "meter" }, display,
      make("div", { class: "row" }, range),
      leads, around,
      make("div", { class: "row" }, make("label", {}, "what you expect ", guess), noteIt), warning, said), log);
  el.append(root);
  range.addEventListener("keydown", (/** @type {KeyboardEvent} */ e) => {
    const step = { ArrowLeft: -1, ArrowUp: -1, ArrowRight: 1, ArrowDown: 1 }[e.key];
    if (!step) return;
    e.preventDefault();
    const k = Math.max(0, Math.min(modes.length - 1, modes.findIndex((m) => m.choice === document.activeElement) + step));
    modes[k].choice.focus();
    tell("mode", { mode: modes[k].mode });
  });
  guess.addEventListener("change", () => tell("predict", { text: guess.value }));
  noteIt.addEventListener("click", () => tell("note"));
  swap.addEventListener("click", () => tell("swap"));
  const unfollow = follow(model, ["terminals", "wires", "wire", "red", "black", "mode", "predicted", "display_text", "warning", "entries", "said"], () => {
    if (list.childElementCount !== model.get("terminals").length) {
      list.replaceChildren(...model.get("terminals").map((/** @type {string} */ t) => make("option", { value: t })));
    }
    const wires = model.get("wires");
    if (wireList.dataset.told !== String(wires)) {
      wireList.dataset.told = String(wires);
      wireList.replaceChildren(...wires.map((/** @type {string[]} */ [no, ends]) => make("option", { value: no }, ends)));
    }
    if (document.activeElement !== clamp || model.get("wire")) clamp.value = model.get("wire");
    const clamped = model.get("mode") === "amps";
    /** @type {HTMLElement} */ (leads).hidden = clamped;
    /** @type {HTMLElement} */ (around).hidden = !clamped;
    if (document.activeElement !== red || model.get("red")) red.value = model.get("red");
    if (document.activeElement !== black || model.get("black")) black.value = model.get("black");
    if (document.activeElement !== guess) guess.value = model.get("predicted");
    display.textContent = model.get("display_text") || "----";
    warning.textContent = model.get("warning");
    said.textContent = model.get("said");
    for (const { mode, choice } of modes) {
      const here = mode === model.get("mode");
      choice.setAttribute("aria-checked", String(here));
      /** @type {HTMLElement} */ (choice).tabIndex = here ? 0 : -1;
    }
    const entries = model.get("entries");
    /** @type {HTMLElement} */ (log).hidden = !entries.length;
    body.replaceChildren(...entries.map((/** @type {any[]} */ row) => make("tr", {}, ...row.map((cell) => make("td", {}, String(cell))))));
  });
  model.send({ do: "hello" });
  return unfollow;
}

export default { render };
