/** The board alive: the kernel draws, this file swaps the pieces that changed and works the parts in place. */

const STILL = ["lamp", "horn", "motor", "terminal_strip", "suppressor", "contactor"];
const TOGGLES = {
  supply: ["on", "off"], breaker: ["on", "off"], fuse: ["whole", "blown"], overload: ["healthy", "tripped"],
  controller: ["run", "stop"], emergency_stop: ["released", "pressed"], aux_block: ["on", "off"], key_switch: ["off", "on"],
};
const ZOOMS = [["fit", 0], ["100 %", 1], ["150 %", 1.5], ["200 %", 2]];

/** @param {{model: Model, el: HTMLElement}} context */
function render({ model, el }) {
  const tell = commands(model);
  const hits = make("g", { class: "hits" });
  const sheet = make("div", { class: "sheet", tabindex: "-1" });
  const words = make("p", { class: "words", role: "status" });
  const wires = /** @type {HTMLSelectElement} */ (make("select", {},
    make("option", { value: "none" }, "ends only"), make("option", { value: "point" }, "of the part chosen"), make("option", { value: "all" }, "all")));
  const zoom = /** @type {HTMLSelectElement} */ (make("select", {}, ...ZOOMS.map(([text, size]) => make("option", { value: String(size) }, String(text)))));
  const said = make("p", { class: "lk-said", role: "status" });
  const style = make("style");
  const root = make("div", { class: "lk lk-bench-view" }, style,
    make("div", { class: "tools" }, make("label", {}, "wires ", wires), make("label", {}, "size ", zoom),
      make("span", { class: "hint" }, "Tab goes from part to part; Space presses, arrows turn.")), sheet, words, said);
  el.append(root);
  for (const control of [wires, zoom]) control.addEventListener("keydown", (e) => e.stopPropagation());

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

  const build = (/** @type {string} */ text) => {
    cleanUps.splice(0).forEach((f) => f());
    hit.clear();
    hits.replaceChildren();
    const parsed = new DOMParser().parseFromString(text, "image/svg+xml").documentElement;
    parsed.querySelector(":scope > style")?.remove();
    parsed.querySelectorAll("[data-of]").forEach(keepWords);
    svg = /** @type {SVGSVGElement} */ (/** @type {unknown} */ (document.importNode(parsed, true)));
    svg.setAttribute("role", "group");
    svg.append(hits);
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
      });
      hits.append(spot);
      hit.set(part, spot);
      work(spot, part, what);
    }
    for (const [id, [x, y]] of Object.entries(model.get("terminals"))) {
      const spot = make("circle", { class: "clamp", cx: String(x), cy: String(y), r: "7" });
      spot.addEventListener("pointerenter", () => { words.textContent = terminalWords(id); });
      hits.append(spot);
    }
    resize();
    name();
  };
  const terminalWords = (/** @type {string} */ id) => {
    const landed = Array.from(svg?.querySelectorAll("[data-of^='wire:']") || []).map((wire) => wire.getAttribute("data-about") || "").filter((t) => t.includes(` ${id} `) || t.includes(` ${id},`));
    return `terminal ${id}${landed.length ? `: ${landed.join("; ")}` : ": no wire"}`;
  };

  const resize = () => {
    if (!svg) return;
    const size = Number(zoom.value);
    const natural = svg.viewBox.baseVal.width;
    svg.setAttribute("width", size ? String(natural * size) : "100%");
    svg.removeAttribute("height");
    svg.style.maxWidth = size ? "none" : `${natural}px`;
  };
  zoom.addEventListener("change", resize);
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
  const unfollow = follow(model, ["states", "said"], () => {
    said.textContent = model.get("said");
    name();
  });
  model.send({ do: "hello" });
  return () => {
    cleanUps.forEach((f) => f());
    model.off("msg:custom", take);
    unfollow();
  };
}

export default { render };
