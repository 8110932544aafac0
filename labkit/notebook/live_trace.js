/** A rolling timing diagram, drawn on a canvas from small pieces; freeze, window, two cursors. */

const ROW = 30;
const BAR = 34; // scan bar and time scale
const WINDOWS = [0.1, 0.4, 1, 4, 10, 30];

/** @typedef {[number, any]} Change time in bench microseconds, value */

/** @param {{model: Model, el: HTMLElement}} context */
function render({ model, el }) {
  const tell = commands(model);
  /** @type {Change[][]} */
  let past = [];
  /** @type {[number, number][]} */
  let gaps = [];
  /** @type {[number, number, number, [string, number, number][]][]} */
  let scans = [];
  let until = 0; // bench time that we were told of
  let heard = performance.now(); // when we were
  let shown = 0; // bench time at the right edge
  let frozen = 0; // bench time at the right edge while frozen; 0 while rolling
  let windowS = model.get("window_s");
  /** @type {(number|null)[]} */
  const cursors = [null, null];
  let active = 0;

  const canvas = /** @type {HTMLCanvasElement} */ (make("canvas", { tabindex: "0", role: "img" }));
  const labels = make("ul", { class: "labels" });
  const freeze = make("button", { type: "button", class: "lk-action" }, "Freeze");
  const widths = /** @type {HTMLSelectElement} */ (make("select", { "aria-label": "seconds across the sheet" },
    ...WINDOWS.map((s) => make("option", { value: String(s) }, s < 1 ? `${s * 1000} ms` : `${s} s`))));
  const save = make("button", { type: "button", class: "lk-action" }, "Save picture");
  const dump = make("button", { type: "button", class: "lk-action", title: "Value change dump (IEEE 1364) of what the sheet shows, for a wave viewer" }, "Save VCD");
  let asked = false;
  const reading = make("span", { class: "reading", role: "status" });
  const root = make("div", { class: "lk lk-live-trace" },
    make("div", { class: "tools", role: "toolbar", "aria-label": "timing diagram" }, freeze, make("label", {}, "across ", widths), save, dump, reading),
    make("div", { class: "sheet" }, labels, canvas));
  el.append(root);
  if (!WINDOWS.includes(windowS)) widths.append(make("option", { value: String(windowS) }, `${windowS} s`));
  widths.value = String(windowS);

  const calm = matchMedia("(prefers-reduced-motion: reduce)");
  const rightEdge = () => {
    if (frozen) return frozen;
    let edge = until;
    if (model.get("pace") === "live") { // between two messages time goes on, but never far ahead of what is known
      edge += Math.min(250, performance.now() - heard) * 1000 * model.get("speed");
    }
    return (shown = Math.max(shown - 2e6 > edge ? 0 : shown, edge));
  };

  const take = (/** @type {any} */ message) => {
    if (message.kind === "past") {
      past = model.get("signals").map(() => []);
      gaps = [];
      scans = [];
      shown = 0;
    } else if (message.kind === "vcd") {
      if (asked) make("a", { href: URL.createObjectURL(new Blob([message.text], { type: "text/plain" })), download: "timing.vcd" }).click();
      asked = false;
      return;
    } else if (message.kind !== "piece") return;
    for (const [place, t, value] of message.changes) {
      if (place < 0) gaps.push([t, value]);
      else past[place]?.push([t, value]);
    }
    for (const run of message.scans) {
      const last = scans[scans.length - 1];
      if (last && last[1] === run[1] && last[0] + last[1] * last[2] === run[0]) last[2] += run[2];
      else scans.push(run);
    }
    until = message.until;
    heard = performance.now();
    const old = until - 35e6;
    past.forEach((row) => { while (row.length > 1 && row[1][0] < old) row.shift(); });
    while (scans.length && scans[0][0] + scans[0][1] * scans[0][2] < old) scans.shift();
    while (gaps.length && gaps[0][1] < old) gaps.shift();
    wake();
  };

  const valueAt = (/** @type {number} */ place, /** @type {number} */ t) => {
    const row = past[place] || [];
    let k = row.length - 1;
    while (k > 0 && row[k][0] > t) k -= 1;
    return k >= 0 ? row[k][1] : undefined;
  };
  const word = (/** @type {any} */ value, /** @type {string} */ kind) => value === undefined ? ""
    : typeof value === "boolean" ? (value ? "1" : "0")
      : typeof value === "number" ? (kind === "volts" ? `${value.toFixed(1)} V` : value.toFixed(2)) : String(value);

  let frame = 0;
  let timer = 0;
  let visible = true;
  const wake = () => {
    if (frame || timer || !visible || document.hidden) return;
    if (calm.matches) timer = window.setTimeout(() => { timer = 0; draw(); }, 250);
    else frame = requestAnimationFrame(() => { frame = 0; draw(); });
  };
  let lastDraw = 0;

  const draw = () => {
    const rolling = !frozen && model.get("pace") === "live";
    const now = performance.now();
    if (rolling && !calm.matches && now - lastDraw < 30) return wake(); // thirty a second is smooth enough
    lastDraw = now;
    paint();
    if (rolling && now - heard < 1000) wake();
  };

  const paint = () => {
    const signals = model.get("signals");
    const wide = canvas.clientWidth;
    const high = signals.length * ROW + BAR;
    const dense = window.devicePixelRatio || 1;
    if (canvas.width !== Math.round(wide * dense) || canvas.height !== Math.round(high * dense)) {
      canvas.width = Math.round(wide * dense);
      canvas.height = Math.round(high * dense);
      canvas.style.height = `${high}px`;
    }
    const pen = /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d"));
    const style = getComputedStyle(root);
    const colour = (/** @type {string} */ name) => style.getPropertyValue(`--lk-${name}`).trim();
    const ink = colour("ink"), soft = colour("soft"), hair = colour("hair"), plate = colour("plate");
    pen.setTransform(dense, 0, 0, dense, 0, 0);
    pen.fillStyle = colour("paper");
    pen.fillRect(0, 0, wide, high);
    const right = rightEdge();
    const scale = wide / (windowS * 1e6);
    const left = right - windowS * 1e6;
    const x = (/** @type {number} */ t) => (t - left) * scale;
    pen.font = `11px ${style.fontFamily}`;

    // time scale: the finest of 1, 2, 5 times a power of ten that leaves 80 pixels
    const wish = (80 / scale);
    const ten = 10 ** Math.floor(Math.log10(wish));
    const grid = [1, 2, 5, 10].map((k) => k * ten).find((k) => k >= wish) || ten * 10;
    pen.strokeStyle = hair;
    pen.fillStyle = soft;
    pen.lineWidth = 1;
    for (let t = Math.ceil(left / grid) * grid; t <= right; t += grid) {
      if (t < 0) continue;
      pen.beginPath();
      pen.moveTo(Math.round(x(t)) + 0.5, 0);
      pen.lineTo(Math.round(x(t)) + 0.5, high - 14);
      pen.stroke();
      const text = grid >= 1e6 ? `${t / 1e6} s` : grid >= 1e3 ? `${+(t / 1e3).toFixed(1)} ms` : `${t} us`;
      if (x(t) > 14 && x(t) < wide - 24) pen.fillText(text, x(t) - 12, high - 3);
    }
    for (const [from, to] of gaps) { // time that code moved: nobody watched
      pen.fillStyle = plate;
      pen.fillRect(x(from), 0, Math.max(1, (to - from) * scale), signals.length * ROW);
    }
    signals.forEach((/** @type {any} */ signal, /** @type {number} */ place) => paintRow(pen, signal, place, { x, left, right, ink, hair, wide }));
    paintScans(pen, signals.length * ROW + 4, { x, left, right, ink, soft, plate, wide, scale });
    cursors.forEach((t, k) => {
      if (t === null) return;
      pen.strokeStyle = colour("focus");
      pen.lineWidth = k === active ? 2 : 1;
      pen.setLineDash(k ? [5, 3] : []);
      pen.beginPath();
      pen.moveTo(x(t), 0);
      pen.lineTo(x(t), high - 14);
      pen.stroke();
      pen.setLineDash([]);
      pen.fillStyle = colour("focus");
      pen.fillText(k ? "B" : "A", x(t) + 3, 10);
    });
    const at = cursors[active] ?? right;
    signals.forEach((/** @type {any} */ signal, /** @type {number} */ place) => {
      const value = word(valueAt(place, at), signal.kind);
      const place_ = labels.children[place]?.lastElementChild;
      if (place_ && place_.textContent !== value) place_.textContent = value;
    });
  };

  const paintRow = (/** @type {CanvasRenderingContext2D} */ pen, /** @type {any} */ signal, /** @type {number} */ place, /** @type {any} */ s) => {
    const low = place * ROW + ROW - 7, top = place * ROW + 7;
    const row = past[place] || [];
    let k = row.length - 1;
    while (k > 0 && row[k][0] > s.left) k -= 1;
    const rows = row.slice(Math.max(0, k));
    let most = 1;
    for (const [, v] of rows) if (typeof v === "number" && v > most) most = v;
    if (signal.kind === "volts") most = Math.max(most, 24);
    pen.strokeStyle = s.hair;
    pen.lineWidth = 1;
    pen.beginPath();
    pen.moveTo(0, (place + 1) * ROW - 0.5);
    pen.lineTo(s.wide, (place + 1) * ROW - 0.5);
    pen.stroke();
    pen.strokeStyle = s.ink;
    pen.fillStyle = s.ink;
    rows.forEach(([t, v], j) => {
      const x1 = Math.max(0, s.x(t)), x2 = Math.min(s.wide, s.x(j + 1 < rows.length ? rows[j + 1][0] : s.right));
      if (x2 < 0 || x1 > s.wide) return;
      if (typeof v === "string") {
        pen.lineWidth = 1.25;
        pen.strokeRect(x1 + 0.5, top, Math.max(0, x2 - x1), low - top);
        if (x2 - x1 > v.length * 6 + 6) pen.fillText(v, x1 + 4, low - 4);
        return;
      }
      const y = low - (low - top) * (Number(v) / most);
      pen.lineWidth = v ? 2.5 : 1.25; // weight tells on from off, in black and white too
      pen.beginPath();
      if (j > 0) {
        const before = rows[j - 1][1];
        pen.moveTo(x1, low - (low - top) * (Number(before) / most));
        pen.lineTo(x1, y);
      } else pen.moveTo(x1, y);
      pen.lineTo(x2, y);
      pen.stroke();
    });
  };

  const paintScans = (/** @type {CanvasRenderingContext2D} */ pen, /** @type {number} */ top, /** @type {any} */ s) => {
    const high = 12;
    for (const [start, period, count, plan] of scans) {
      const first = Math.max(0, Math.floor((s.left - start) / period));
      const last = Math.min(count, Math.ceil((s.right - start) / period));
      const every = Math.max(1, Math.ceil(4 / (period * s.scale))); // not more than a mark each four pixels
      for (let n = Math.ceil(first / every) * every; n < last; n += every) {
        const t = start + n * period;
        pen.strokeStyle = s.soft;
        pen.lineWidth = 1;
        pen.beginPath();
        pen.moveTo(s.x(t), top);
        pen.lineTo(s.x(t), top + high);
        pen.stroke();
        if (period * s.scale < 24) continue;
        for (const [kind, from, to] of plan) { // read light, solve half, write full; the rest of the scan is blank
          if (kind === "idle" || kind === "service") continue;
          pen.fillStyle = { read: s.plate, solve: s.soft, write: s.ink }[kind] || s.soft;
          const x1 = s.x(t + from);
          const wide = Math.max(1.5, (to - from) * s.scale);
          pen.fillRect(x1, top, wide, high);
          pen.strokeRect(x1, top + 0.5, wide, high - 1);
        }
      }
    }
  };

  /** A cursor that the keyboard moves takes the frozen sheet along. */
  const keepInView = () => {
    const at = cursors[active], wide = windowS * 1e6;
    if (at === null || !frozen) return;
    if (at < frozen - wide) frozen = at + wide * 0.9;
    else if (at > frozen) frozen = at + wide * 0.1;
  };
  const say = () => {
    const [a, b] = cursors;
    if (a === null && b === null) reading.textContent = frozen ? "frozen: click the sheet to place a cursor" : "";
    else if (a !== null && b !== null) reading.textContent = `A ${(a / 1000).toFixed(2)} ms, B ${(b / 1000).toFixed(2)} ms, B - A = ${((b - a) / 1000).toFixed(2)} ms`;
    else reading.textContent = `${a !== null ? "A" : "B"} ${(((a ?? b) || 0) / 1000).toFixed(2)} ms; Shift+click places the other`;
    freeze.textContent = frozen ? "Roll" : "Freeze";
    freeze.setAttribute("aria-pressed", String(Boolean(frozen)));
    wakeNow();
  };
  const wakeNow = () => requestAnimationFrame(paint);
  const setFrozen = (/** @type {boolean} */ on) => {
    frozen = on ? frozen || rightEdge() : 0;
    if (!on) cursors[0] = cursors[1] = null;
    say();
    wake();
  };
  /** Times at which something shown changes: a cursor near one jumps onto it. */
  const snap = (/** @type {number} */ t, /** @type {number} */ reach) => {
    let best = t, far = reach;
    for (const row of past) for (const [at] of row) if (Math.abs(at - t) < far) { far = Math.abs(at - t); best = at; }
    return best;
  };
  const place = (/** @type {PointerEvent} */ e) => {
    const perPixel = (windowS * 1e6) / canvas.clientWidth;
    const t = frozen - windowS * 1e6 + e.offsetX * perPixel;
    cursors[active] = Math.round(snap(t, 6 * perPixel));
    say();
  };
  let dragging = false;
  canvas.addEventListener("pointerdown", (e) => {
    if (e.button !== 0) return;
    setFrozen(true);
    active = e.shiftKey || (e.pointerType === "touch" && cursors[0] !== null && cursors[1] === null) ? 1 : 0;
    canvas.setPointerCapture(e.pointerId);
    dragging = true;
    place(e);
  });
  canvas.addEventListener("pointermove", (e) => dragging && place(e));
  canvas.addEventListener("pointerup", () => { dragging = false; });
  canvas.addEventListener("keydown", (e) => {
    const step = { ArrowLeft: -1, ArrowRight: 1 }[e.key];
    if (e.key === "Tab" || e.key.length > 1 && !step && e.key !== "Escape") return;
    e.stopPropagation();
    if (e.key === "Escape") return setFrozen(false);
    if (e.key === "a" || e.key === "b") {
      setFrozen(true);
      active = e.key === "b" ? 1 : 0;
      cursors[active] ??= Math.round(frozen - (windowS * 1e6) / 2);
      return say();
    }
    if (!step) return;
    e.preventDefault();
    setFrozen(true);
    const here = cursors[active] ?? frozen - (windowS * 1e6) / 2;
    if (e.shiftKey) { // the next change in that direction
      const all = past.flat().map(([t]) => t).filter((t) => step * (t - here) > 0).sort((p, q) => step * (p - q));
      if (all.length) cursors[active] = all[0];
    } else cursors[active] = Math.round(here + step * (windowS * 1e6) / 200);
    keepInView();
    say();
  });
  freeze.addEventListener("click", () => setFrozen(!frozen));
  widths.addEventListener("change", () => { windowS = Number(widths.value); wakeNow(); });
  save.addEventListener("click", () => make("a", { href: canvas.toDataURL("image/png"), download: "timing.png" }).click());
  dump.addEventListener("click", () => {
    const right = Math.round(rightEdge());
    asked = true;
    tell("vcd", { from_us: Math.max(0, Math.round(right - windowS * 1e6)), until_us: right });
  });
  for (const control of [freeze, widths, save, dump]) control.addEventListener("keydown", (e) => e.stopPropagation());

  const seen = new IntersectionObserver((entries) => { visible = entries[entries.length - 1].isIntersecting; wake(); });
  seen.observe(root);
  const sized = new ResizeObserver(() => wakeNow());
  sized.observe(canvas);
  document.addEventListener("visibilitychange", wake);
  model.on("msg:custom", take);
  const unfollow = follow(model, ["signals", "pace", "speed"], () => {
    const signals = model.get("signals");
    labels.replaceChildren(...signals.map((/** @type {any} */ s) => make("li", {}, make("span", {}, s.label), make("span", { class: "value" }))));
    canvas.setAttribute("aria-label", `timing diagram of ${signals.map((/** @type {any} */ s) => s.label).join(", ")}. `
      + "A and B place cursors, arrow keys move them, with Shift from change to change, Escape rolls on.");
    wake();
  });
  model.send({ do: "hello" });
  say();
  return () => {
    tell("bye");
    cancelAnimationFrame(frame);
    clearTimeout(timer);
    seen.disconnect();
    sized.disconnect();
    document.removeEventListener("visibilitychange", wake);
    model.off("msg:custom", take);
    unfollow();
  };
}

export default { render };
