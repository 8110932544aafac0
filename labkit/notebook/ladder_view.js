/** The ladder with its power flow; one scan walked moment by moment, forwards and back. */

/** @param {{model: Model, el: HTMLElement}} context */
function render({ model, el }) {
  const tell = commands(model);
  const scan = make("button", { type: "button", class: "lk-action" }, "Walk a scan");
  const back = make("button", { type: "button", class: "lk-action" }, "Back");
  const next = make("button", { type: "button", class: "lk-action" }, "Next");
  const live = make("button", { type: "button", class: "lk-action" }, "Live again");
  const place = make("span", { class: "place" });
  const sheet = make("div", { class: "sheet", tabindex: "0", role: "group", "aria-label": "ladder" });
  const say = make("p", { class: "say", role: "status" });
  const images = make("div", { class: "images" });
  const said = make("p", { class: "lk-said", role: "status" });
  const root = make("div", { class: "lk lk-ladder-view" },
    make("div", { class: "tools", role: "toolbar", "aria-label": "ladder" }, scan, back, next, live, place), say,
    make("div", { class: "beside" }, sheet, images), said);
  el.append(root);
  const go = (/** @type {number} */ step) => {
    const to = model.get("at") + step;
    if (to >= 0 && to < model.get("moments")) tell("frame", { to });
  };
  scan.addEventListener("click", () => tell("scan"));
  back.addEventListener("click", () => go(-1));
  next.addEventListener("click", () => (model.get("at") === model.get("moments") - 1 ? tell("scan") : go(1)));
  live.addEventListener("click", () => tell("live"));
  root.addEventListener("keydown", (e) => {
    e.stopPropagation();
    const step = { ArrowLeft: -1, ArrowRight: 1 }[e.key];
    if (!step || model.get("at") < 0) return;
    e.preventDefault();
    go(step);
  });
  const title = { input: "input image", memory: "memory", output: "output image" };
  const table = (/** @type {string} */ kind, /** @type {any[]} */ rows) => make("table", {},
    make("caption", {}, title[/** @type {"input"} */ (kind)]),
    make("tbody", {}, ...rows.map(([, tag, bit, changed]) => make("tr", changed ? { class: "changed" } : {},
      make("th", { scope: "row" }, tag), make("td", {}, `${bit}${changed ? " \u25c0" : ""}`)))));
  const unfollow = follow(model, ["drawing", "mode", "at", "moments", "say", "rung", "rows", "said"], () => {
    const at = model.get("at");
    const walking = at >= 0;
    const parsed = new DOMParser().parseFromString(model.get("drawing") || "<svg xmlns='http://www.w3.org/2000/svg'/>", "image/svg+xml").documentElement;
    sheet.replaceChildren(document.importNode(parsed, true));
    if (!model.get("drawing")) sheet.textContent = "No program is loaded.";
    root.classList.toggle("walking", walking);
    const rung = model.get("rung");
    sheet.querySelectorAll("[data-of^='rung:']").forEach((group) => {
      const number = Number((group.getAttribute("data-of") || "").slice(5));
      const done = !walking || at === model.get("moments") - 1 || number <= rung;
      group.classList.toggle("waiting", !done);
      group.classList.toggle("now", walking && number === rung);
    });
    say.textContent = walking ? model.get("say") : "";
    place.textContent = walking ? `moment ${at + 1} of ${model.get("moments")}` : `controller ${model.get("mode")}`;
    /** @type {HTMLButtonElement} */ (scan).hidden = walking;
    for (const b of [back, next, live]) /** @type {HTMLButtonElement} */ (b).hidden = !walking;
    /** @type {HTMLButtonElement} */ (back).disabled = at <= 0;
    next.textContent = at === model.get("moments") - 1 ? "Next scan" : "Next";
    const rows = model.get("rows");
    images.replaceChildren(...["input", "memory", "output"].map((kind) => [kind, rows.filter((/** @type {any[]} */ r) => r[0] === kind)])
      .filter(([, some]) => some.length).map(([kind, some]) => table(kind, some)));
    said.textContent = model.get("said");
  });
  model.send({ do: "hello" });
  return unfollow;
}

export default { render };
