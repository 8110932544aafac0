/**
 * The wiring desk beside the drawing: a form for a new wire, the list of wires, the plug-on terminal blocks.
 * @param {Model} model @param {(what: string, more?: object) => void} tell
 * @param {{back: (id: string) => void, part: () => string}} board where the focus goes back to; the part chosen
 */
function wireDesk(model, tell, board) {
  const listId = `lk-ends-${Math.random().toString(36).slice(2)}`;
  const ends = make("datalist", { id: listId });
  const field = (/** @type {string} */ text, /** @type {HTMLElement} */ input) => make("label", {}, `${text} `, input);
  const input = (/** @type {Record<string, string>} */ more) =>
    /** @type {HTMLInputElement} */ (make("input", { spellcheck: "false", autocomplete: "off", ...more }));
  const from = input({ list: listId, size: "10" }), to = input({ list: listId, size: "10" });
  const no = input({ size: "5" }), length = input({ size: "5", inputmode: "decimal" });
  const colour = /** @type {HTMLSelectElement} */ (make("select", {}));
  const size = /** @type {HTMLSelectElement} */ (make("select", {}));
  const land = make("button", { type: "submit", class: "lk-action" }, "Land it");
  const clip = make("button", { type: "button", class: "lk-action" }, "Clip a bridge instead");
  const form = make("form", { class: "new", "aria-label": "new wire" }, make("b", {}, "New wire"), ends,
    field("from", from), field("to", to), field("number", no), field("colour", colour), field("mm\u00b2", size), field("metres", length), land, clip);
  const which = /** @type {HTMLSelectElement} */ (make("select", { "aria-label": "wires listed" },
    make("option", { value: "all" }, "all wires"), make("option", { value: "part" }, "wires of the part chosen"), make("option", { value: "lifted" }, "lifted wires")));
  const body = make("tbody");
  const head = make("thead", {}, make("tr", {}, ...["wire", "from", "to", "colour", "mm\u00b2", "m"].map((t) => make("th", { scope: "col" }, t)),
    ...["lift or land", "take away"].map((t) => make("th", { scope: "col" }, make("span", { class: "lk-hidden" }, t)))));
  const list = make("div", { class: "list", tabindex: "0", role: "region", "aria-label": "wire list" }, make("table", {}, head, body));
  const blocks = make("ul", { class: "blocks", "aria-label": "terminal blocks" });
  const blockBox = make("details", {}, make("summary", {}, "Plug-on terminal blocks"), blocks);
  const root = make("div", { class: "desk", hidden: "" }, make("div", { class: "half" }, form, blockBox),
    make("div", { class: "half" }, make("div", { class: "pick" }, which), list));
  root.addEventListener("keydown", (e) => {
    if (e.key === "Escape" && from.value) board.back(to.value);
  });

  /** @type {string|null} */
  let before = null; // the last change in words when a wire was asked for: a new one tells that it is done
  form.addEventListener("submit", (e) => {
    e.preventDefault();
    before = model.get("did");
    tell("new", { a: from.value.trim(), b: to.value.trim(), wire: no.value.trim(), colour: colour.value, mm2: Number(size.value) || 0, m: Number(length.value.replace(",", ".")) || 0 });
  });
  clip.addEventListener("click", () => tell("bridge", { a: from.value.trim(), b: to.value.trim() }));
  which.addEventListener("change", () => draw());

  const button = (/** @type {string} */ text, /** @type {string} */ name, /** @type {() => void} */ act) => {
    const made = make("button", { type: "button", class: "lk-action", "aria-label": name }, text);
    made.addEventListener("click", act);
    return made;
  };
  let listed = "";
  const draw = () => {
    if (/** @type {HTMLElement} */ (root).hidden) return;
    if (!colour.childElementCount) {
      colour.replaceChildren(make("option", { value: "" }, "choose"), ...model.get("colours").map((/** @type {string[]} */ [code, text]) => make("option", { value: code }, `${code} ${text}`)));
      size.replaceChildren(make("option", { value: "0" }, "choose"), ...model.get("sizes").map((/** @type {number} */ s) => make("option", { value: String(s) }, String(s))));
      ends.replaceChildren(...Object.keys(model.get("terminals")).map((t) => make("option", { value: t })));
    }
    if (before !== null && before !== model.get("did") && model.get("did").startsWith(`new wire ${no.value.trim()} `)) {
      before = null;
      const last = to.value;
      for (const part of [from, to, no, length]) part.value = "";
      if (form.contains(document.activeElement)) board.back(last);
    }
    no.placeholder = model.get("free_no");
    const part = board.part();
    const rows = model.get("wires").filter((/** @type {any[]} */ [, a, b, , , , state]) => which.value === "all"
      || (which.value === "lifted" ? state === "lifted" : `${a} ${b}`.split(" ").some((t) => t.startsWith(`${part}:`))));
    const told = JSON.stringify([rows, which.value]);
    if (told !== listed) {
      listed = told;
      // where the focus is: a wire, and its place in the list should the wire not be there afterwards
      const at = body.contains(document.activeElement) ? document.activeElement : null;
      const place = [...body.children].findIndex((row) => row.contains(at));
      const [wire, column] = [at?.closest("tr")?.dataset.wire ?? "", at?.closest("tr")?.lastElementChild?.contains(at) ? "last" : "first"];
      body.replaceChildren(...rows.map((/** @type {any[]} */ [wire, a, b, code, mm2, m, state]) => make("tr", { "data-wire": wire, class: state },
        ...[wire, a, b, code, mm2, m].map((v) => make("td", {}, String(v))),
        make("td", {}, state === "lifted" ? button("Land", `land wire ${wire}`, () => tell("land", { wire })) : button("Lift", `lift wire ${wire}`, () => tell("lift", { wire }))),
        make("td", {}, button("Take away", `take wire ${wire} away`, () => tell("unwire", { wire }))))));
      if (!rows.length) body.append(make("tr", {}, make("td", { colspan: "8" }, which.value === "part" ? "choose a part first, or none ends there" : "none")));
      if (at) {
        const row = body.querySelector(`tr[data-wire="${CSS.escape(wire)}"]`) ?? body.children[Math.min(place, body.childElementCount - 1)];
        const buttons = row.querySelectorAll("button");
        (buttons[column === "last" ? buttons.length - 1 : 0] ?? list).focus();
      }
    }
    const state = model.get("blocks");
    const known = Object.keys(state);
    /** @type {HTMLElement} */ (blockBox).hidden = !known.length;
    if (blocks.dataset.told === JSON.stringify(state)) return;
    blocks.dataset.told = JSON.stringify(state);
    const here = /** @type {HTMLElement|null} */ (document.activeElement)?.closest?.("li")?.dataset.block;
    blocks.replaceChildren(...known.map((block) => {
      const seated = state[block].startsWith("seated");
      const on = /** @type {HTMLSelectElement} */ (make("select", { "aria-label": `header for block ${block}` }, ...known.map((h) => make("option", { value: h }, h))));
      on.value = block;
      return make("li", { "data-block": block }, make("b", {}, block), ` ${state[block]} `,
        ...(seated ? [button("Park", `park block ${block}`, () => tell("block", { block, to: "parked" })), button("Pull off", `pull block ${block} off`, () => tell("block", { block, to: "off" }))]
          : [button("Push onto", `push block ${block} onto the header`, () => tell("block", { block, to: "seated", on: on.value })), on]));
    }));
    if (here) /** @type {HTMLElement|null} */ (blocks.querySelector(`li[data-block="${CSS.escape(here)}"] button`))?.focus();
  };
  return {
    root,
    draw,
    /** @param {boolean} on */
    show(on) {
      /** @type {HTMLElement} */ (root).hidden = !on;
      draw();
    },
    /** The ends of the wire that is being asked for. */
    asked: () => (/** @type {HTMLElement} */ (root).hidden ? ["", ""] : [from.value.trim(), to.value.trim()]),
    /** A wire is to be laid between two terminals: its particulars are asked. @param {string} a @param {string} b */
    ask(a, b) {
      from.value = a;
      to.value = b;
      const [[x1, y1], [x2, y2]] = [model.get("terminals")[a], model.get("terminals")[b]];
      length.value = (Math.ceil((Math.abs(x1 - x2) + Math.abs(y1 - y2)) * model.get("mm_per_unit") / 100 + 2) / 10).toFixed(1);
      no.focus();
    },
  };
}
