/** A lesson's tasks in a list: open, answered, checked; the button that hands in. */

const SIGN = { open: "\u25cb", partly: "\u25d0", answered: "\u25cf", right: "\u2713", "look again": "!" };

/** @param {{model: Model, el: HTMLElement}} context */
function render({ model, el }) {
  const tell = commands(model);
  const heading = make("h3", {});
  const student = make("p", { class: "student" });
  const list = make("ol", {});
  const sum = make("p", { class: "sum", role: "status" });
  const hand = make("button", { type: "button", class: "lk-action" }, "Hand in");
  const shown = make("p", { class: "shown lk-hidden", role: "status" }); // the form stands elsewhere on the page
  const where = make("p", { class: "where", role: "status" });
  const said = make("p", { class: "lk-said", role: "status" });
  const nav = make("nav", {}, list);
  const root = make("div", { class: "lk lk-task-list" }, heading, student, nav, shown, sum, hand, where, said);
  el.append(root);
  const buttons = () => /** @type {HTMLElement[]} */ ([...list.querySelectorAll("button")]);
  root.addEventListener("keydown", (e) => {
    const all = buttons();
    const k = all.indexOf(/** @type {HTMLElement} */ (document.activeElement));
    const to = { ArrowUp: k - 1, ArrowDown: k + 1, Home: 0, End: all.length - 1 }[e.key];
    if (k < 0 || to === undefined) return;
    e.preventDefault();
    all[Math.max(0, Math.min(all.length - 1, to))].focus();
  });
  hand.addEventListener("click", () => tell("hand_in"));
  const unfollow = follow(model, ["heading", "student", "rows", "chosen", "handed_in", "said"], () => {
    heading.textContent = model.get("heading");
    nav.setAttribute("aria-label", `tasks: ${model.get("heading")}`);
    student.textContent = model.get("student");
    const focused = buttons().findIndex((b) => b === document.activeElement);
    const rows = model.get("rows");
    list.replaceChildren(...rows.map((/** @type {string[]} */ [id, title, points, state, told]) => {
      const here = id === model.get("chosen");
      const button = make("button", { type: "button", "data-task": id, "data-state": state, ...(here ? { "aria-current": "step" } : {}) },
        make("span", { class: "sign", "aria-hidden": "true" }, SIGN[/** @type {"open"} */ (state)]),
        make("span", { class: "what" }, title, make("span", { class: "told" }, `${told} \u00b7 ${points}`)));
      button.addEventListener("click", () => tell("choose", { task: id }));
      return make("li", {}, button);
    }));
    if (focused >= 0) buttons()[focused]?.focus();
    const open = rows.filter((/** @type {string[]} */ row) => row[3] === "open" || row[3] === "partly").length;
    const text = open ? `${open} of ${rows.length} tasks still open` : "every task has an answer";
    if (sum.textContent !== text) sum.textContent = text;
    const now = rows.findIndex((/** @type {string[]} */ row) => row[0] === model.get("chosen"));
    const which = now < 0 ? "" : `task ${now + 1} of ${rows.length} is shown: ${rows[now][1]}`;
    if (shown.textContent !== which) shown.textContent = which;
    if (where.textContent !== model.get("handed_in")) where.textContent = model.get("handed_in");
    said.textContent = model.get("said");
  });
  return unfollow;
}

export default { render };
