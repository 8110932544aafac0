/** What a form says about the last thing that was done: one line that stays on the page, so that it is read aloud. */

/** @param {{model: Model, el: HTMLElement}} context */
function render({ model, el }) {
  const root = make("div", { class: "lk lk-said-line", role: "status" });
  el.append(root);
  // the toolkit's own fields around it do not keep their keys; the box they stand in is known once it is on the page
  let letKeysGo = () => {};
  const onPage = new ResizeObserver(() => {
    const box = /** @type {HTMLElement|null} */ (root.closest(".lk-keys"));
    if (!box) return;
    onPage.disconnect();
    letKeysGo = keepKeys(box);
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
    unfollow();
  };
}

export default { render };
