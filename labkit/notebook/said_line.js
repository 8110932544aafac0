/** What a form says about the last thing that was done: one line that stays on the page, so that it is read aloud. */

const STOPS = "button, input, select, textarea, summary, [tabindex]";

/**
 * A control that is switched off while it has the keyboard's focus hands it on: to the next control of the box that
 * can be worked, or to the line that says how it went. The browser would drop it, and the Tab key begin elsewhere.
 * @param {HTMLElement} box
 * @param {HTMLElement} line
 */
function handOn(box, line) {
  /** @type {Element|null} */
  let last = null; // what the keyboard, not the pointer, came to
  const come = (/** @type {FocusEvent} */ e) => {
    const to = /** @type {Element} */ (e.target);
    last = to.matches(":focus-visible") ? to : null;
  };
  const key = () => { last = document.activeElement; };
  const off = new MutationObserver((changes) => {
    const gone = changes.map((c) => /** @type {HTMLButtonElement} */ (c.target)).find((t) => t.disabled && t === last);
    const now = document.activeElement;
    if (!gone || (now !== gone && now !== document.body)) return;
    const free = [...box.querySelectorAll(STOPS)].filter((e) => /** @type {HTMLElement} */ (e).tabIndex >= 0
      && !(/** @type {HTMLButtonElement} */ (e).disabled) && e.checkVisibility());
    const next = free.find((e) => gone.compareDocumentPosition(e) & Node.DOCUMENT_POSITION_FOLLOWING);
    /** @type {HTMLElement} */ (next || line).focus();
  });
  box.addEventListener("focusin", come);
  box.addEventListener("keydown", key);
  off.observe(box, { attributes: true, attributeFilter: ["disabled"], subtree: true });
  return () => {
    off.disconnect();
    box.removeEventListener("focusin", come);
    box.removeEventListener("keydown", key);
  };
}

/** @param {{model: Model, el: HTMLElement}} context */
function render({ model, el }) {
  const root = make("div", { class: "lk lk-said-line", role: "status", tabindex: "-1" });
  el.append(root);
  // the toolkit's own fields around it do not keep their keys; the box they stand in is known once it is on the page
  let letKeysGo = () => {};
  let letFocusGo = () => {};
  const onPage = new ResizeObserver(() => {
    const box = /** @type {HTMLElement|null} */ (root.closest(".lk-keys"));
    if (!box) return;
    onPage.disconnect();
    letKeysGo = keepKeys(box);
    letFocusGo = handOn(box, root);
  });
  onPage.observe(root);
  const unfollow = follow(model, ["times"], () => {
    const text = model.get("value");
    root.replaceChildren(...(text ? [make("b", { "aria-hidden": "true" }, model.get("good") ? "\u2713" : "!"), " ",
      make("span", {}, text)] : []));
  });
  return () => {
    onPage.disconnect();
    letKeysGo();
    letFocusGo();
    unfollow();
  };
}

export default { render };
