/** The board alive: the kernel draws, this file swaps the pieces that changed and works the parts in place. */

const STILL = ["lamp", "horn", "motor", "terminal_strip", "suppressor", "contactor"];
const TOGGLES = {
  supply: ["on", "off"], breaker: ["on", "off"], fuse: ["whole", "blown"], overload: ["healthy", "tripped"],
  controller: ["run", "stop"], emergency_stop: ["released", "pressed"], aux_block: ["on", "off"], key_switch: ["off", "on"],
};
const ZOOMS = [0, 0.75, 1, 1.5, 2, 3]; // 0: as wide as the page
const LEGIBLE = 0.4; // a whole board drawn smaller than this is opened larger, in a window of its own
const CLOSE = 2; // a part that is chosen to be seen close up

/** @param {{model: Model, el: HTMLElement}} context */
function render({ model, el }) {
  const tell = commands(model);
  const hits = make("g", { class: "hits" });
  const sheet = make("div", { class: "sheet", tabindex: "-1" });
  const words = make("p", { class: "words", role: "status" });
  const wires = /** @type {HTMLSelectElement} */ (make("select", {},
    make("option", { value: "none" }, "ends only"), make("option", { value: "point" }, "of the part chosen"), make("option", { value: "all" }, "all")));
  const zoom = /** @type {HTMLSelectElement} */ (make("select", {}, ...ZOOMS.map((size) => make("option", { value: String(size) }, size ? `${size * 100} %` : "whole board"))));
  const nearer = make("button", { type: "button", class: "lk-action zoom", "aria-label": "larger" }, "+");
  const farther = make("button", { type: "button", class: "lk-action zoom", "aria-label": "smaller" }, "\u2212");
  const hand = /** @type {HTMLSelectElement} */ (make("select", {},
    ...[["work", "works the parts"], ["red", "holds the red lead"], ["black", "holds the black lead"], ["wires", "changes wires"]].map(([v, t]) => make("option", { value: v }, t))));
  const undo = make("button", { type: "button", class: "lk-action", hidden: "" }, "Take back");
  const hint = make("span", { class: "hint" });
  const did = make("p", { class: "did", role: "status" });
  const said = make("p", { class: "lk-said", role: "status" });
  const style = make("style");
  const root = make("div", { class: "lk lk-bench-view" }, style,
    make("div", { class: "tools" }, make("label", {}, "the hand ", hand), undo, make("label", {}, "wires shown ", wires), make("label", {}, "size ", zoom), make("span", { class: "sizes" }, farther, nearer), hint));
  const desk = wireDesk(model, tell, { back: (id) => clamps.get(id)?.focus(), part: () => chosen });
  root.append(make("div", { class: "place" }, make("div", { class: "drawing" }, sheet, words, did, said), desk.root));
  el.append(root);

  /** @type {SVGSVGElement|null} */
  let svg = null;
  /** @type {Map<string, Element>} */
  const hit = new Map();
  /** @type {(() => void)[]} */
  const cleanUps = [];
  let chosen = "";

  const stateOf = (/** @type {string} */ part) => model.get("states")[part] ?? (part.includes(".") ? "on" : "");
  const say = (/** @type {string} */ part) => {
    const what = model.get("parts")[part];
    if (!what) return "";
    const off = stateOf(part);
    const lit = svg?.querySelector(`[data-of="part:${CSS.escape(part)}"] .lamp-lit`) ? "lit" : "dark";
    const state = what.kind === "aux_block" ? (off === "pulled off" ? "pulled off" : `plugged on, follows ${part.split(".")[0]}`)
      : what.kind === "lamp" ? lit : off;
    return `${part}${what.label ? ` ${what.label}` : ""}, ${what.text}${state ? `: ${state}` : ""}`;
  };
  const tip = (/** @type {string} */ part) => {
    const kind = model.get("parts")[part].kind;
    return { push_button: "press and hold; Shift+press keeps it down", emergency_stop: "press; press again to turn it free",
      selector: "click left or right of it, or arrow keys", key_switch: "click or arrow keys", supply: "click to switch",
      breaker: "click to switch", overload: "click to trip or reset", controller: "click for run or stop", aux_block: "click to pull off or plug on",
      sensor: "click to put something before it or take it away; arrow keys move metal" }[kind] || "";
  };
  const show = (/** @type {string} */ part) => { words.textContent = `${say(part)}${tip(part) ? ` (${tip(part)})` : ""}`; };

  const toggle = (/** @type {string} */ part, /** @type {string} */ kind) => {
    const [rest, other] = TOGGLES[/** @type {keyof typeof TOGGLES} */ (kind)];
    const now = stateOf(part);
    if (kind === "aux_block") return tell("move", { part, to: now === "pulled off" ? "on" : "off" });
    tell("move", { part, to: now === rest ? other : rest });
  };
  const turn = (/** @type {string} */ part, /** @type {number} */ step) => {
    const all = model.get("parts")[part].positions;
    const to = all[Math.max(0, Math.min(all.length - 1, all.indexOf(stateOf(part)) + step))];
    if (to && to !== stateOf(part)) tell("move", { part, to });
  };
  /** What is before each sensor, as this page last asked; the bench tells only what the sensor says. */
  const before = /** @type {Record<string, number|null>} */ ({});
  const put = (/** @type {string} */ part) => {
    before[part] = before[part] == null ? 1 : null;
    tell("move", { part, to: before[part] == null ? "away" : "there" });
  };

  const work = (/** @type {SVGGElement} */ spot, /** @type {string} */ part, /** @type {any} */ what) => {
    const kind = what.kind;
    if (kind === "push_button") {
      cleanUps.push(holdable(spot, (down, how) => {
        spot.classList.toggle("down", down);
        tell(down ? "press" : "release", { part, ...how });
      }, { beat: () => tell("beat", { part }) }));
      return;
    }
    const act = (/** @type {boolean} */ left) => {
      if (kind === "selector") turn(part, left ? -1 : 1);
      else if (kind === "sensor") put(part);
      else if (kind in TOGGLES) toggle(part, kind);
    };
    const early = kind === "emergency_stop"; // a stop acts on going down
    spot.addEventListener(early ? "pointerdown" : "click", (/** @type {any} */ e) => {
      if (e.button) return;
      const box = spot.getBoundingClientRect();
      act(e.clientX < box.left + box.width / 2);
    });
    spot.addEventListener("keydown", (e) => {
      const step = { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1 }[e.key];
      if (e.key !== " " && e.key !== "Enter" && !step) return;
      e.preventDefault();
      e.stopPropagation();
      if (e.repeat && !step) return;
      if (step && kind === "selector") turn(part, step);
      else if (step && kind === "key_switch") tell("move", { part, to: step > 0 ? "on" : "off" });
      else if (!step) act(false);
    });
  };

  const roleOf = (/** @type {string} */ kind) => (STILL.includes(kind) ? "img" : kind === "selector" ? "slider" : "button");
  const name = () => {
    for (const [part, spot] of hit) {
      const what = model.get("parts")[part];
      spot.setAttribute("aria-label", say(part));
      if (what.kind === "selector") {
        spot.setAttribute("aria-valuetext", stateOf(part));
        spot.setAttribute("aria-valuemin", "0");
        spot.setAttribute("aria-valuemax", String(what.positions.length - 1));
        spot.setAttribute("aria-valuenow", String(Math.max(0, what.positions.indexOf(stateOf(part)))));
      } else if (!STILL.includes(what.kind)) {
        const rest = { aux_block: "on", supply: "off", breaker: "off", controller: "stop" }[what.kind];
        const now = what.kind === "aux_block" ? (stateOf(part) === "pulled off" ? "off" : "on") : stateOf(part);
        spot.setAttribute("aria-pressed", String(rest ? now !== rest : ["pressed", "tripped", "on"].includes(now)));
      }
    }
    if (chosen) show(chosen);
  };

  /** The sentence on a piece moves from a tooltip to the words line. @param {Element} group */
  const keepWords = (group) => {
    const title = group.querySelector(":scope > title");
    if (!title) return;
    group.setAttribute("data-about", title.textContent || "");
    title.remove();
  };

  // --- the hand on terminals: leads of the meter, wires ---
  /** @type {Map<string, SVGCircleElement>} */
  const clamps = new Map();
  const marks = make("g", { class: "marks" });
  let here = ""; // the terminal that Tab comes to
  let picked = ""; // the first of two terminals
  const pick = (/** @type {string} */ id) => {
    clamps.get(picked)?.classList.remove("picked");
    picked = id;
    clamps.get(picked)?.classList.add("picked");
  };
  const touch = (/** @type {string} */ id) => {
    if (hand.value === "red" || hand.value === "black") return tell("lead", { lead: hand.value, on: id });
    if (hand.value !== "wires") return;
    if (!picked || picked === id) {
      pick(picked === id ? "" : id);
      if (picked) words.textContent = `${id} picked; now the other terminal, or Escape`;
      return;
    }
    const [a, b] = [picked, id];
    pick("");
    const known = model.get("wires").some((/** @type {any[]} */ w) => (w[1] === a && w[2] === b) || (w[1] === b && w[2] === a));
    const bridged = model.get("bridges").some((/** @type {string[]} */ pair) => pair.includes(a) && pair.includes(b));
    if (known) tell("wire", { a, b });
    else if (bridged) tell("bridge", { a, b });
    else {
      desk.ask(a, b);
      mark();
    }
  };
  /** The nearest terminal in a direction: straight ahead counts more than aside. */
  const neighbour = (/** @type {string} */ id, /** @type {number} */ dx, /** @type {number} */ dy) => {
    const all = model.get("terminals");
    const [x, y] = all[id];
    let best = id, least = Infinity;
    for (const [other, [ox, oy]] of Object.entries(all)) {
      const ahead = (ox - x) * dx + (oy - y) * dy;
      const aside = Math.abs((ox - x) * dy) + Math.abs((oy - y) * dx);
      if (other === id || ahead < 1 || aside > ahead * 3 + 20) continue;
      if (ahead + 2 * aside < least) { least = ahead + 2 * aside; best = other; }
    }
    return best;
  };
  // a browser may take what listens for the focus as a stop of the Tab key: without a word there are hundreds of them
  const rove = () => clamps.forEach((spot, id) => {
    spot.setAttribute("tabindex", hand.value !== "work" && id === here ? "0" : "-1");
    spot.setAttribute("aria-hidden", String(hand.value === "work")); // nothing to be worked there with this hand
  });
  const setHand = () => {
    const onParts = hand.value === "work";
    if (!here || !clamps.has(here)) here = clamps.keys().next().value || "";
    hits.classList.toggle("on-terminals", !onParts);
    for (const spot of hit.values()) spot.setAttribute("tabindex", onParts ? "0" : "-1");
    clamps.forEach((spot, id) => spot.setAttribute("aria-label", terminalWords(id)));
    rove();
    pick("");
    /** @type {HTMLElement} */ (undo).hidden = hand.value !== "wires";
    desk.show(hand.value === "wires");
    hint.textContent = { work: "Tab goes from part to part; Space presses, arrows turn.", wires: "Pick two terminals: the wire between them is lifted or landed; where there is none, a new one is laid.",
      red: "Pick a terminal; arrows go from one to the next.", black: "Pick a terminal; arrows go from one to the next." }[hand.value] || "";
  };
  hand.addEventListener("change", setHand);
  undo.addEventListener("click", () => tell("undo"));
  /** Leads and bridges, drawn over the board. */
  const mark = () => {
    const all = model.get("terminals");
    marks.replaceChildren();
    for (const [a, b] of model.get("bridges")) {
      const [x1, y1] = all[a], [x2, y2] = all[b];
      marks.append(make("path", { class: "bridge", d: `M${x1} ${y1}Q${(x1 + x2) / 2} ${Math.min(y1, y2) - 30} ${x2} ${y2}` }));
    }
    for (const [block, at] of Object.entries(model.get("blocks"))) {
      const poles = model.get("plugs")[block].map((/** @type {string} */ t) => all[t]).filter(Boolean);
      if (at === "seated" || !poles.length) continue;
      const [x1, x2] = [Math.min(...poles.map((p) => p[0])) - 9, Math.max(...poles.map((p) => p[0])) + 9];
      const y = poles[0][1];
      marks.append(make("rect", { class: "block", x: String(x1), y: String(y - 11), width: String(x2 - x1), height: "22", rx: "3" }),
        make("text", { class: "block", x: String((x1 + x2) / 2), y: String(y + 4), "text-anchor": "middle", "font-size": "11" }, `${block} ${at}`));
    }
    const [from, to] = desk.asked();
    if (all[from] && all[to]) {
      const [x1, y1] = all[from], [x2, y2] = all[to];
      marks.append(make("path", { class: "asked", d: `M${x1} ${y1}Q${(x1 + x2) / 2} ${Math.min(y1, y2) - 30} ${x2} ${y2}` }));
    }
    const leads = model.get("leads");
    for (const colour of ["red", "black"]) {
      if (!all[leads[colour]]) continue;
      const [x, y] = all[leads[colour]];
      const lead = make("g", { class: `lead ${colour}` }, make("circle", { cx: String(x), cy: String(y), r: "9" }),
        make("text", { x: String(x), y: String(y + 4), "text-anchor": "middle", "font-size": "11" }, colour === "red" ? "R" : "B"));
      marks.append(lead);
    }
  };

  const build = (/** @type {string} */ text) => {
    const focused = /** @type {HTMLElement|null} */ (sheet.querySelector("[data-part]:focus"))?.dataset.part;
    const focusedClamp = /** @type {HTMLElement|null} */ (sheet.querySelector("[data-terminal]:focus"))?.dataset.terminal;
    cleanUps.splice(0).forEach((f) => f());
    hit.clear();
    hits.replaceChildren();
    const parsed = new DOMParser().parseFromString(text, "image/svg+xml").documentElement;
    parsed.querySelector(":scope > style")?.remove();
    parsed.querySelectorAll("[data-of]").forEach(keepWords);
    svg = /** @type {SVGSVGElement} */ (/** @type {unknown} */ (document.importNode(parsed, true)));
    svg.setAttribute("role", "group");
    svg.append(hits);
    const [left, top] = [sheet.scrollLeft, sheet.scrollTop];
    sheet.replaceChildren(svg);
    for (const [part, what] of Object.entries(model.get("parts"))) {
      const group = /** @type {SVGGElement|null} */ (svg.querySelector(`[data-of="part:${CSS.escape(part)}"]`));
      if (!group) continue;
      const box = group.getBBox();
      const spot = /** @type {SVGGElement} */ (make("g", { tabindex: "0", role: roleOf(what.kind), class: `hit ${what.kind}`, "data-part": part },
        make("rect", { x: String(box.x), y: String(box.y), width: String(box.width), height: String(box.height), rx: "3" })));
      spot.addEventListener("pointerenter", () => show(part));
      spot.addEventListener("focus", () => {
        chosen = part;
        show(part);
        if (wires.value === "point") tell("follow", { what: part });
        desk.draw();
      });
      hits.append(spot);
      hit.set(part, spot);
      work(spot, part, what);
    }
    clamps.clear();
    for (const [id, [x, y]] of Object.entries(model.get("terminals"))) {
      const spot = /** @type {SVGCircleElement} */ (make("circle", { class: "clamp", role: "button", cx: String(x), cy: String(y), r: "7", "data-terminal": id }));
      spot.addEventListener("pointerenter", () => { words.textContent = terminalWords(id); });
      spot.addEventListener("focus", () => { words.textContent = terminalWords(id); here = id; rove(); });
      spot.addEventListener("click", () => touch(id));
      spot.addEventListener("keydown", (e) => {
        const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[e.key];
        if (!way && e.key !== " " && e.key !== "Enter" && e.key !== "Escape") return;
        e.preventDefault();
        e.stopPropagation();
        if (way) clamps.get(neighbour(id, way[0], way[1]))?.focus();
        else if (e.key === "Escape") pick("");
        else touch(id);
      });
      clamps.set(id, spot);
      hits.append(spot);
    }
    hits.append(marks);
    closeUp();
    resize();
    if (fresh && zoom.value === "0" && sheet.clientWidth && scaleNow() < LEGIBLE) {
      zoom.value = "0.75";
      resize([0, 0]);
    }
    fresh = false;
    sheet.scrollTo(left, top);
    setHand();
    mark();
    if (focused) hit.get(focused)?.focus({ preventScroll: true });
    else if (focusedClamp) clamps.get(focusedClamp)?.focus({ preventScroll: true });
    name();
  };
  const terminalWords = (/** @type {string} */ id) => {
    const landed = [];
    for (const wire of svg?.querySelectorAll(":scope > [data-of^='wire:']") || []) {
      const [, no, a, b, rest] = /^wire (\S+) from (\S+) to ([^,]+), (.*)$/.exec(wire.getAttribute("data-about") || "") || [];
      if (a === id || b === id) landed.push({ no, far: a === id ? b : a, rest });
    }
    if (!landed.length) return `terminal ${id}: no wire`;
    if (landed.length === 1) return `terminal ${id}: wire ${landed[0].no} to ${landed[0].far}, ${landed[0].rest}`;
    const some = landed.slice(0, 6).map((w) => `${w.no} to ${w.far}`).join(", ");
    return `terminal ${id}: ${landed.length} wires: ${some}${landed.length > 6 ? ", ..." : ""}`;
  };

  let fresh = true;
  const scaleNow = () => (svg ? svg.getBoundingClientRect().width / svg.viewBox.baseVal.width : 1);
  /** Show the drawing at a size, and keep a point of it where it is, or bring it to the middle. */
  const resize = (/** @type {[number, number]|null} */ middle = null) => {
    if (!svg) return;
    const size = Number(zoom.value) || (zoom.value === "0" ? 0 : CLOSE);
    const before = scaleNow();
    const [x, y] = middle || [(sheet.scrollLeft + sheet.clientWidth / 2) / before, (sheet.scrollTop + sheet.clientHeight / 2) / before];
    const natural = svg.viewBox.baseVal.width;
    svg.setAttribute("width", size ? String(natural * size) : "100%");
    svg.removeAttribute("height");
    svg.style.maxWidth = size ? "none" : `${natural}px`;
    sheet.classList.toggle("near", Boolean(size));
    if (size) sheet.scrollTo(x * size - sheet.clientWidth / 2, y * size - sheet.clientHeight / 2);
  };
  const closeUp = () => {
    if (zoom.options.length > ZOOMS.length) return;
    const names = [...hit.keys()].filter((part) => !part.includes("."));
    zoom.append(make("optgroup", { label: "close up" }, ...names.map((part) => make("option", { value: `part:${part}` }, `${part} ${model.get("parts")[part].label}`.trim()))));
  };
  const step = (/** @type {number} */ way) => {
    const now = scaleNow();
    const sizes = ZOOMS.slice(1);
    const next = way > 0 ? sizes.find((size) => size > now * 1.05) ?? sizes[sizes.length - 1] : sizes.filter((size) => size < now * 0.95).pop() ?? 0;
    zoom.value = String(next);
    resize();
  };
  nearer.addEventListener("click", () => step(1));
  farther.addEventListener("click", () => step(-1));
  zoom.addEventListener("change", () => {
    const box = zoom.value.startsWith("part:") ? /** @type {any} */ (hit.get(zoom.value.slice(5)))?.getBBox() : null;
    resize(box ? [box.x + box.width / 2, box.y + box.height / 2] : null);
  });
  /** The bare board is dragged about while it is larger than its window. @type {[number, number]|null} */
  let grip = null;
  sheet.addEventListener("pointerdown", (/** @type {PointerEvent} */ e) => {
    if (e.button !== 0 || !sheet.classList.contains("near") || /** @type {Element} */ (e.target).closest(".hit, .clamp")) return;
    grip = [e.clientX + sheet.scrollLeft, e.clientY + sheet.scrollTop];
    sheet.setPointerCapture(e.pointerId);
  });
  sheet.addEventListener("pointermove", (/** @type {PointerEvent} */ e) => grip && sheet.scrollTo(grip[0] - e.clientX, grip[1] - e.clientY));
  for (const end of ["pointerup", "pointercancel"]) sheet.addEventListener(end, () => { grip = null; });
  wires.addEventListener("change", () => tell("follow", { what: wires.value === "point" ? chosen || "none" : wires.value }));

  const take = (/** @type {any} */ message) => {
    if (message.kind === "whole") {
      style.textContent = message.style.join("\n");
      build(message.svg);
    } else if (message.kind === "pieces" && svg) {
      if (message.style.length) style.textContent += `\n${message.style.join("\n")}`;
      for (const [of, text] of Object.entries(message.new)) {
        let group = svg.querySelector(`:scope > [data-of="${CSS.escape(of)}"]`);
        if (!group) {
          group = make("g", { "data-of": of });
          svg.insertBefore(group, svg.querySelector(":scope > [data-of^='part:']"));
        }
        group.innerHTML = text;
        keepWords(group);
      }
      for (const of of message.gone) svg.querySelector(`:scope > [data-of="${CSS.escape(of)}"]`)?.remove();
      name();
    }
  };
  model.on("msg:custom", take);
  const unfollow = follow(model, ["states", "said", "leads", "bridges", "did", "wires", "blocks"], () => {
    said.textContent = model.get("said");
    name();
    if (did.textContent !== model.get("did")) did.textContent = model.get("did");
    desk.draw();
    mark();
  });
  model.send({ do: "hello" });
  return () => {
    cleanUps.forEach((f) => f());
    model.off("msg:custom", take);
    unfollow();
  };
}

export default { render };
