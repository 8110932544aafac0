// Shared by every labkit widget: it is put in front of the widget's own file, so that each widget is
// one module with nothing to fetch. Only plain functions here, no state between widgets.

/** @typedef {{get: (name: string) => any, set: Function, send: (message: object) => void,
 *             on: Function, off: Function, save_changes: Function}} Model */

/**
 * A stream of numbered commands from one view. The kernel applies each number once and in order.
 * @param {Model} model
 * @returns {(what: string, more?: object) => void}
 */
function commands(model) {
  const view = Array.from(crypto.getRandomValues(new Uint8Array(8)), (b) => b.toString(16).padStart(2, "0")).join("");
  let no = 0;
  return (what, more = {}) => {
    no += 1;
    try {
      model.send({ do: what, view, no, ...more });
    } catch (wrong) { // the kernel has gone between two looks; `guarded` tells it
      console.warn(String(wrong));
    }
  };
}

const GONE = "The kernel has gone: what is shown here is the past. Run the cells again, from the first one on.";
const SHORT = "kernel gone: run the cells again";
const CUT = "The kernel cannot be reached just now. The view waits for it.";
const ENDED = ["restarting", "autorestarting", "terminating", "dead"];

/**
 * Plain keys belong to what has the focus: JupyterLab would take a letter, an arrow or Enter for a command of its own
 * and insert, cut or leave a cell. With Ctrl, Alt or Meta they stay its commands.
 * @param {HTMLElement} el
 */
function keepKeys(el) {
  const keep = (/** @type {KeyboardEvent} */ e) => e.ctrlKey || e.altKey || e.metaKey || e.stopPropagation();
  el.addEventListener("keydown", keep);
  return () => el.removeEventListener("keydown", keep);
}

/**
 * A widget's `render` with a guard: when the kernel is restarted, dies or cannot be reached, every button that is
 * held comes up, nothing in the view can be worked any more, and a sentence says what to do. If the same
 * kernel is reached again, the view goes on.
 * @param {(context: {model: Model, el: HTMLElement}) => (void | (() => void))} render
 */
function guarded(render) {
  return (/** @type {{model: Model, el: HTMLElement}} */ context) => {
    const { model, el } = context;
    const end = render(context);
    const letKeysGo = keepKeys(el);
    const notice = make("p", { class: "lk lk-gone", role: "alert", hidden: "" });
    el.prepend(notice);
    const root = /** @type {HTMLElement|null} */ (el.querySelector(":scope > .lk:not(.lk-gone)"));
    const kernel = /** @type {any} */ (model).widget_manager?.kernel; // JupyterLab's; other pages have none
    let ended = false; // for good: a kernel that comes up again knows nothing of this view
    let past = false;
    const look = () => {
      ended ||= ENDED.includes(kernel?.status);
      // JupyterLab marks a view whose model has lost its kernel
      const gone = ended || Boolean(el.closest(".jupyter-widgets-disconnected"));
      const cut = gone || (kernel?.connectionStatus ?? "connected") !== "connected";
      const small = Boolean(root?.querySelector(":scope > .lk-card"));
      notice.classList.toggle("small", small);
      notice.textContent = gone ? (small ? SHORT : GONE) : cut ? CUT : "";
      if (cut === past || !root) return;
      past = cut;
      root.classList.toggle("lk-past", past);
      root.toggleAttribute("inert", past);
      /** @type {HTMLElement} */ (notice).hidden = !past;
      if (past) root.querySelectorAll("*").forEach((part) => part.dispatchEvent(new Event("lk-gone")));
      else model.send({ do: "hello" });
    };
    const soon = () => setTimeout(look, 0);
    model.on("comm_live_update", soon);
    kernel?.statusChanged?.connect(look);
    kernel?.connectionStatusChanged?.connect(look);
    soon();
    return () => {
      model.off("comm_live_update", soon);
      kernel?.statusChanged?.disconnect(look);
      kernel?.connectionStatusChanged?.disconnect(look);
      letKeysGo();
      if (end) end();
    };
  };
}

/**
 * Follow some traits; returns the clean-up.
 * @param {Model} model @param {string[]} names @param {() => void} draw
 */
function follow(model, names, draw) {
  for (const name of names) model.on(`change:${name}`, draw);
  draw();
  return () => names.forEach((name) => model.off(`change:${name}`, draw));
}

/**
 * A new element.
 * @param {string} tag @param {Record<string, string>} [attributes] @param {...(Node|string)} children
 */
function make(tag, attributes = {}, ...children) {
  const svg = ["svg", "g", "path", "rect", "circle", "line", "text", "title", "use", "polyline", "tspan", "ellipse"];
  const el = svg.includes(tag) ? document.createElementNS("http://www.w3.org/2000/svg", tag) : document.createElement(tag);
  for (const [key, value] of Object.entries(attributes)) el.setAttribute(key, value);
  el.append(...children);
  return el;
}

/**
 * Make `el` a thing that is pressed and let go: by pointer, touch, Space or Enter. Exactly one press
 * and one release reach `tell`, whatever the source; a press never outlives the view, the focus, the
 * window or a hidden page. Shift+press keeps it down until the next press (work for two hands).
 *
 * @param {HTMLElement|SVGElement} el
 * @param {(down: boolean, how: {via: string, held_ms: number, latched: boolean}) => void} tell
 * @param {{latch?: () => boolean, beat?: () => void}} [options] `beat` is called 4 times a second while down
 * @returns {() => void} clean-up
 */
function holdable(el, tell, options = {}) {
  let down = false;
  let latched = false;
  let since = 0;
  /** @type {number|undefined} */
  let beating;
  const set = (/** @type {boolean} */ want, /** @type {string} */ via) => {
    if (want === down) return;
    down = want;
    if (want) since = performance.now();
    clearInterval(beating);
    if (want && options.beat) beating = setInterval(options.beat, 250);
    tell(want, { via, held_ms: want ? 0 : Math.round(performance.now() - since), latched: want && latched });
    if (!want) latched = false;
  };
  const press = (/** @type {boolean} */ shift, /** @type {string} */ via) => {
    if (down && latched) return set(false, via);
    latched = shift || Boolean(options.latch && options.latch());
    set(true, via);
  };
  const letGo = (/** @type {string} */ via) => {
    if (!latched) set(false, via);
  };
  const isKey = (/** @type {KeyboardEvent} */ e) => e.key === " " || e.key === "Enter";
  const page = new AbortController();
  const on = (/** @type {EventTarget} */ target, /** @type {string} */ name, /** @type {(e: any) => void} */ f) =>
    target.addEventListener(name, f, { signal: page.signal });
  on(el, "pointerdown", (e) => {
    if (e.button !== 0) return;
    e.preventDefault();
    /** @type {HTMLElement} */ (el).focus({ preventScroll: true });
    press(e.shiftKey, "pointer");
  });
  on(el, "pointerup", () => letGo("pointer"));
  on(el, "pointerleave", () => letGo("leave"));
  on(el, "pointercancel", () => letGo("cancel"));
  on(el, "contextmenu", (e) => e.preventDefault());
  on(el, "blur", () => letGo("blur"));
  on(el, "lk-gone", () => set(false, "gone"));
  on(el, "keydown", (e) => {
    if (!isKey(e)) return;
    e.preventDefault();
    e.stopPropagation(); // Space scrolls the notebook and Enter opens a cell otherwise
    if (!e.repeat) press(e.shiftKey, "key");
  });
  on(el, "keyup", (e) => {
    if (!isKey(e)) return;
    e.preventDefault();
    e.stopPropagation();
    letGo("key");
  });
  on(window, "blur", () => letGo("window"));
  on(window, "pagehide", () => set(false, "page"));
  on(document, "visibilitychange", () => document.hidden && set(false, "hidden"));
  return () => {
    set(false, "gone");
    page.abort();
  };
}

/**
 * A knob with its positions around it, worked by pointer, arrow keys, Home and End: a radio group, so
 * that a screen reader tells the positions. It only asks; `show` draws what is.
 *
 * @param {(to: string) => void} ask
 * @param {SVGElement[]} handle what turns, drawn pointing up around (60, 40)
 */
function dial(ask, handle) {
  let states = /** @type {string[]} */ ([]);
  let now = "";
  const turning = make("g", { class: "handle" }, ...handle);
  const marks = make("g", { class: "marks" });
  const picture = make("svg", { viewBox: "0 0 120 68", width: "120", height: "68", "aria-hidden": "true" },
    marks, make("circle", { class: "collar", cx: "60", cy: "40", r: "26" }), turning);
  const places = make("div", { class: "places" });
  const root = make("div", { class: "dial", role: "radiogroup" }, picture, places);
  const angle = (/** @type {number} */ k) => (states.length === 1 ? 0 : (k / (states.length - 1) - 0.5) * (states.length > 2 ? 110 : 90));
  const go = (/** @type {number} */ k) => {
    const to = states[Math.max(0, Math.min(states.length - 1, k))];
    if (to !== undefined && to !== now) ask(to);
  };
  const list = () => /** @type {HTMLElement[]} */ (Array.from(places.children));
  root.addEventListener("keydown", (/** @type {KeyboardEvent} */ e) => {
    const step = { ArrowLeft: -1, ArrowUp: -1, ArrowRight: 1, ArrowDown: 1 }[e.key];
    const target = step ? states.indexOf(now) + step : e.key === "Home" ? 0 : e.key === "End" ? states.length - 1 : null;
    if (target === null && e.key !== " " && e.key !== "Enter") return;
    e.stopPropagation();
    if (target === null) return;
    e.preventDefault();
    go(target);
    list()[Math.max(0, Math.min(states.length - 1, target))]?.focus();
  });
  picture.addEventListener("click", () => go((states.indexOf(now) + 1) % states.length));
  return {
    root,
    /** @param {string[]} all @param {string} state @param {string} name @param {boolean} [free] */
    show(all, state, name, free = true) {
      if (all.join() !== states.join()) {
        states = all;
        places.replaceChildren(...all.map((word) => {
          const place = make("button", { type: "button", role: "radio" }, word);
          place.addEventListener("click", () => ask(word));
          return place;
        }));
        marks.replaceChildren(...all.map((_, k) =>
          make("line", { x1: "60", y1: "4", x2: "60", y2: "11", transform: `rotate(${angle(k)} 60 40)` })));
      }
      now = state;
      root.setAttribute("aria-label", name);
      root.classList.toggle("fixed", !free);
      list().forEach((place, k) => {
        const here = states[k] === state;
        place.setAttribute("aria-checked", String(here));
        place.tabIndex = here || (k === 0 && !states.includes(state)) ? 0 : -1;
        /** @type {HTMLButtonElement} */ (place).disabled = !free && !here;
      });
      const k = Math.max(0, states.indexOf(state));
      turning.setAttribute("style", `transform: rotate(${angle(k)}deg)`);
    },
  };
}
