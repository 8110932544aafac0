/** Beside a task's form: hints in steps, the check, the next task. */

/** Words of a lesson; what stands between backticks is code. @param {string} text */
const prose = (text) => text.split("`").map((part, k) => (k % 2 ? make("code", {}, part) : part));

/** @param {{model: Model, el: HTMLElement}} context */
function render({ model, el }) {
  const tell = commands(model);
  const hint = /** @type {HTMLButtonElement} */ (make("button", { type: "button", class: "lk-action hint" }));
  const check = /** @type {HTMLButtonElement} */ (make("button", { type: "button", class: "lk-action check" }, "Check it now"));
  const onward = /** @type {HTMLButtonElement} */ (make("button", { type: "button", class: "lk-action onward" }));
  const hints = make("ol", { class: "hints", "aria-live": "polite" });
  const busy = make("p", { class: "busy", role: "status" });
  const verdict = make("div", { class: "verdict", role: "region", "aria-label": "result of the check", tabindex: "-1" });
  const why = make("p", { class: "why" });
  const said = make("p", { class: "lk-said", role: "status" });
  const root = make("div", { class: "lk lk-task-help" },
    make("div", { class: "tools", role: "group", "aria-label": "help with this task" }, hint, check, onward), hints, busy, said, verdict, why);
  el.append(root);
  // a button that rests keeps the focus: what the Tab key and the screen reader stand on does not vanish
  const rest = (/** @type {HTMLElement} */ button, /** @type {boolean} */ on) => button.setAttribute("aria-disabled", String(on));
  const rests = (/** @type {HTMLElement} */ button) => button.getAttribute("aria-disabled") === "true";
  hint.addEventListener("click", () => rests(hint) || tell("hint"));
  onward.addEventListener("click", () => tell("onward"));
  let asked = -1;
  check.addEventListener("click", () => {
    if (rests(check)) return;
    asked = model.get("checked");
    busy.textContent = "the bench tries your answer ...";
    rest(check, true);
    tell("check");
  });
  const unfollow = follow(model, ["hints", "more", "can_check", "verdict", "why", "checked", "onward", "said"], () => {
    const more = model.get("more");
    const taken = model.get("hints");
    hint.hidden = !more && !taken.length;
    rest(hint, !more);
    hint.textContent = more ? `Hint ${taken.length + 1} of ${taken.length + more}` : "no more hints";
    hints.replaceChildren(...taken.map((/** @type {string} */ text) => make("li", {}, ...prose(text))));
    check.hidden = !model.get("can_check");
    if (asked !== model.get("checked")) {
      rest(check, false);
      busy.textContent = model.get("verdict") ? "tried: the result stands below" : "";
    }
    if (verdict.dataset.shown !== model.get("verdict")) {
      verdict.dataset.shown = model.get("verdict");
      verdict.innerHTML = model.get("verdict"); // made by labkit from its own templates, every word of it escaped
      for (const wide of verdict.querySelectorAll("pre, figure")) wide.setAttribute("tabindex", "0");
      if (asked >= 0 && verdict.dataset.shown) verdict.scrollIntoView({ block: "nearest" });
    }
    why.replaceChildren(...prose(model.get("why")));
    if (!model.get("onward") && document.activeElement === onward) check.focus();
    onward.hidden = !model.get("onward");
    onward.textContent = `Next open task: ${model.get("onward")}`;
    said.textContent = model.get("said");
  });
  return unfollow;
}

export default { render };
