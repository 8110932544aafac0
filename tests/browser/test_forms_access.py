"""Every kind of task in the view of a lesson: for axe-core, on a narrow page, and worked by keys alone."""

from __future__ import annotations

from pathlib import Path

import pytest

from labkit.lessons import read_handin

from .test_access import AXE

pytestmark = pytest.mark.browser

KINDS = Path(__file__).parents[1] / "lessons" / "kinds" / "kinds.toml"
TASKS = {
    "predict": ("seal-in", "signals"),
    "program": ("seal-in", "hold"),
    "choice": ("earth-faults", "core"),
    "number": ("supply-and-commons", "input-current"),
    "reading": ("checkout", "force-emergency"),
    "drill": ("meter-drills", "series"),
    "could-explain": ("supply-and-commons", "could-be"),
    "wiring": ("landing", "inputs"),
    "sheet": ("sensors", "mine"),
    "before power": ("power-up", "pre-power"),
    "hunt": ("wiring-hunt", "input-side"),
}
START = f"""
import labkit as lk
from ipywidgets import VBox
views = []
lessons = {{}}
for name, task in {list(TASKS.values())!r}:
    if name in lessons:
        views.append(lk.answer_form(lessons[name], task))
        continue
    lessons[name] = lk.lesson(name, student="R. Vale")
    views.append(lk.lesson_view(lessons[name]))
    views[-1].choose(task)
"""
INCLUDE = [".lk-task-list", ".lk-form", ".lk-task-help"]


def form(s, kind):
    return s.page.locator(".lk-form").nth(list(TASKS).index(kind))


def board(s, kind, button):
    """Have the bench of a form shown."""
    form(s, kind).get_by_role("button", name=button).first.click()
    view = form(s, kind).locator(".lk-bench-view")
    view.locator("[data-part='S2']").wait_for(state="attached")
    return view


def all_forms(sheet):
    """All of them below one another, the benches shown, things said in the lines below them."""
    s = sheet(START, "VBox([*views, lk.earth_slider()])", height=3000)
    s.page.locator(".lk-form").nth(len(TASKS) - 1).wait_for(state="attached")
    board(s, "wiring", "Show the bench").locator(".tools select").first.select_option("wires")
    hunt = form(s, "hunt")
    hunt.get_by_role("button", name="Strike off").first.click()
    board(s, "hunt", "Go to the bench")
    board(s, "before power", "Bench")
    form(s, "could-explain").locator("select").first.select_option("possible")
    form(s, "drill").locator("input[type=text]").first.fill("twelve")
    form(s, "drill").locator("input[type=text]").first.press("Enter")
    form(s, "drill").get_by_text("is not a number").wait_for()
    return s


NARROW = """() => {
  const said = [];
  const own = ['.lk-task-list', '.lk-form', '.lk-task-help'];
  const scrolls = '.list, .lk-scroll, .log, .sheet, .verdict';
  const name = (e) => `${e.tagName.toLowerCase()} "${(e.textContent || e.placeholder || '').trim().slice(0, 40)}"`;
  for (const root of document.querySelectorAll(own.join())) {
    const page = root.closest('.jp-OutputArea-output').getBoundingClientRect();
    const things = [...root.querySelectorAll(
      'button, input, select, textarea, summary, output, p, h3, .lk-words, .lk-said-line, .widget-radio-box label')]
      .filter((e) => e.checkVisibility() && !e.closest(scrolls) && !e.matches('.lk-hidden'));
    const boxes = things.map((e) => [e, e.getBoundingClientRect()]).filter(([, b]) => b.width > 1 && b.height > 1);
    for (const [e, b] of boxes) {
      if (b.right > page.right + 1 || b.left < page.left - 1) said.push(`outside the page: ${name(e)}`);
      if (e.matches('button, .lk-words, .widget-radio-box label') && e.scrollWidth > e.clientWidth + 1)
        said.push(`cut off: ${name(e)}`);
      if (e.matches('button, select, input[type=text]') && b.height < 24) said.push(`too small to hit: ${name(e)}`);
    }
    for (let k = 0; k < boxes.length; k += 1) for (let j = k + 1; j < boxes.length; j += 1) {
      const [[e, a], [f, b]] = [boxes[k], boxes[j]];
      if (e.contains(f) || f.contains(e)) continue;
      const w = Math.min(a.right, b.right) - Math.max(a.left, b.left);
      const h = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
      if (w > 2 && h > 2) said.push(`${name(e)} lies over ${name(f)}`);
    }
    for (const box of root.querySelectorAll('.list, .lk-scroll, .log'))
      if (box.scrollWidth > box.clientWidth + 1 && (getComputedStyle(box).overflowX !== 'auto' || box.tabIndex < 0)
          || box.getBoundingClientRect().right > page.right + 1)
        said.push(`a table that does not scroll in itself: ${name(box)}`);
    for (const box of [root, ...root.querySelectorAll('.widget-box')])
      if (box.scrollWidth > box.clientWidth + 1) said.push(`scrolls sideways: ${box.className}`);
  }
  return said;
}"""


def axe_says(s) -> list[str]:
    said = []
    s.page.evaluate(AXE.read_text("utf-8"))
    for theme in ("Light", "Dark"):
        s.theme(theme)
        found = s.page.evaluate(
            "(roots) => axe.run({include: roots.map(r => [r])}, {resultTypes: ['violations']})", INCLUDE
        )
        assert {"label", "color-contrast", "button-name"} <= {rule["id"] for rule in found["passes"]}
        said += [
            f"{theme}: {v['id']}: {v['help']}: "
            + "; ".join(n["html"][:160] + " " + n["failureSummary"] for n in v["nodes"][:3])
            for v in found["violations"]
        ]
        s.shot(f"forms-{theme.lower()}")
    return said


def test_every_kind_of_form_in_both_themes_and_on_a_narrow_page(sheet):
    """axe-core finds nothing; at 200 % of a laptop's page and at 320 pixels all can be used (WCAG 2.2, 1.4.10)."""
    if not AXE.exists():
        pytest.skip("needs axe-core: npm install --no-save axe-core")
    s = all_forms(sheet)
    wrong = axe_says(s)
    s.theme("Light")
    for width in (512, 320):
        s.page.set_viewport_size({"width": width, "height": 3000})
        s.page.wait_for_function(
            "(w) => document.querySelector('.lk-form').getBoundingClientRect().right <= w", arg=width
        )
        s.page.wait_for_timeout(300)
        wrong += [f"{width}: {said}" for said in s.page.evaluate(NARROW)]
        for kind in TASKS:
            s.piece(form(s, kind), f"forms-{width}-{kind}")
    assert not wrong, "\n".join(wrong)


# --- by keys alone ---------------------------------------------------------------------------------
RING = """() => {
  const e = document.activeElement;
  const style = getComputedStyle(e);
  const edge = e.matches('.hit') ? getComputedStyle(e.querySelector('rect')) : style;
  return e.matches('svg *') ? parseFloat(edge.strokeWidth) >= 2 && edge.stroke !== 'none'
    : style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2;
}"""


class Hands:
    """Somebody with a keyboard and nothing else; wherever the focus stops, it must be seen."""

    def __init__(self, page) -> None:
        self.page = page

    def at(self, css: str) -> bool:
        return self.page.evaluate("(css) => document.activeElement.matches(css)", css)

    def tab_to(self, css: str, most: int = 60, back: bool = False) -> None:
        stops = []
        for _ in range(most):
            self.page.keyboard.press("Shift+Tab" if back else "Tab")
            stops.append(self.page.evaluate("document.activeElement.outerHTML.slice(0, 80)"))
            assert self.page.evaluate(RING), f"not seen: {stops[-1]}"
            if self.at(css):
                return
        raise AssertionError(f"the Tab key does not come to {css}: {stops}")

    def press(self, *keys: str) -> None:
        for key in keys:
            self.page.keyboard.press(key)

    def has(self, css: str) -> None:
        """Wait until the focus is there, and seen."""
        self.page.wait_for_function("(css) => document.activeElement.matches(css)", arg=css)
        assert self.page.evaluate(RING)

    def wait(self, css: str, text: str = "") -> None:
        self.page.locator(css, has_text=text).first.wait_for(state="attached")

    def task(self, name: str) -> None:
        """Go back to the list of the tasks, to the one with this name."""
        self.tab_to(".lk-task-list [data-task]", back=True)
        self.press("Home")
        for _ in range(20):
            if self.at(f"[data-task='{name}']"):
                break
            self.press("ArrowDown")
        self.press("Enter")
        self.wait(f"[data-task='{name}'][aria-current]")
        self.shown()

    def shown(self) -> None:
        """Wait until the form is the one that the list tells of: what is exchanged under the focus takes it along."""
        self.page.wait_for_function("""() => {
          const head = document.querySelector('.lk-form [role=heading]');
          return head && document.querySelector('.lk-task-list .shown').textContent.endsWith(`: ${head.textContent}`);
        }""")


BY_KEYS = f"""
import labkit as lk
from ipywidgets import VBox
gate = lk.lesson("power-up", student="R. Vale")
view = lk.lesson_view(lk.lesson({str(KINDS)!r}, student="R. Vale"))
VBox([view, lk.BenchView(gate.bench())])
"""


def test_every_task_is_worked_and_handed_in_by_keys_alone(sheet):
    s = sheet(BY_KEYS, height=2400)
    s.page.wait_for_selector(".lk-task-list [data-task='land']")
    s.page.locator(".lk-task-list [data-task='land']").focus()  # from here on no pointer and no other help
    cells = s.page.locator(".jp-Cell").count()
    me, keys = Hands(s.page), s.page.keyboard

    # a wire is landed, another taken away, a reading noted, the wiring put on the sheet
    me.tab_to("button[title='Show the bench to wire it']")
    me.press("Enter")
    me.wait(".lk-form .lk-bench-view [data-terminal]")
    me.tab_to(".lk-form .lk-bench-view .tools select")
    me.press("ArrowDown", "ArrowDown", "ArrowDown")
    me.tab_to(".lk-form .lk-bench-view .desk input[list]")
    for text in ("X1:24I", "P1:X1", "77", "BU", "0.75", "0.5"):
        keys.type(text)
        me.press("Tab")
    me.press("Enter")
    me.wait(".lk-form .did", "new wire 77 from X1:24I to P1:X1")
    assert me.at("[data-terminal='P1:X1']")
    me.tab_to("button[aria-label='take wire 1 away']")
    me.press("Enter")
    me.wait(".lk-form .did", "wire 1 taken away")
    assert me.at("button[aria-label='take wire 2 away']")  # the next one: the focus is not lost with its row
    me.tab_to("select[aria-label='wires listed']", back=True)
    me.press("End")
    me.tab_to(".lk-form .lk-meter-view .red input")
    for text in ("X1:0V", "X1:PE"):
        keys.type(text)
        me.press("Tab")
    me.tab_to(".lk-form .lk-meter-view button[role=radio]", back=True)
    me.press("ArrowRight")
    me.tab_to(".lk-form .lk-meter-view input[placeholder=value]")
    keys.type("0")
    me.press("Tab", "Enter")
    me.wait(".lk-form .lk-meter-view .log tbody tr")
    me.tab_to("button[title='Put this wiring on the sheet']", back=True)
    me.press("Enter")
    me.wait(".lk-said-line", "on the sheet")

    # a sheet: the bench that a row asks for is the next stop
    me.task("checkout")
    me.tab_to(".lk-form input[type=text]")
    keys.type("24")
    me.press("Tab")
    me.wait(".lk-said-line", "on the sheet")
    me.press("Enter")
    me.wait(".lk-form .lk-bench-view [data-part]")
    me.tab_to(".lk-form .lk-bench-view select", most=2)
    me.tab_to("button[title^='Close the bench']", most=1, back=True)
    me.press("Enter")
    s.page.locator(".lk-form .lk-bench-view").wait_for(state="detached")
    s.page.wait_for_function("document.activeElement.matches(\"button[title^='Show the bench']\")")

    # a prediction, then the reading
    me.task("predict-volts")
    me.tab_to(".lk-form input[type=text]")
    keys.type("12")
    me.press("Enter")
    me.wait(".lk-form button:enabled", "Read")
    me.tab_to(".lk-form button", most=1)
    me.press("Enter")
    me.wait(".lk-said-line", "read: ")
    me.has(".lk-form input[type=text]:enabled")  # the next row's field, not the page's beginning

    # a hunt
    me.task("find-it")
    me.tab_to(".lk-form button[title^='Strike off']")
    me.press("Space")
    me.wait(".lk-form", "(struck off)")
    me.has(".lk-form button[title^='Strike off']:enabled")  # the next suspect
    left = s.page.locator("button[title^='Strike off']:enabled")
    assert left.count() > 1
    for k in range(left.count(), 0, -1):
        me.has(".lk-form button[title^='Strike off']:enabled")
        me.press("Enter")
        s.page.wait_for_function(
            "(k) => document.querySelectorAll(\"button[title^='Strike off']:enabled\").length === k", arg=k - 1
        )
    me.has("button[title='Go to the bench']")
    me.press("Shift+Tab", "Tab")
    me.has("button[title='Go to the bench']")
    me.tab_to(".lk-task-list [data-task]", back=True)
    me.tab_to("button[title='Go to the bench']")
    me.press("Enter")
    me.wait(".lk-form .lk-bench-view [data-part]")
    for _ in range(2):
        me.tab_to(".lk-form .widget-dropdown select", most=90)
        me.press("ArrowDown")
    me.tab_to("button[title^='Hand over']")
    me.press("Enter")
    me.wait(".lk-said-line", "on the sheet")

    # words, one option, a number, a reading
    me.task("could-it")
    me.tab_to(".lk-form select")
    keys.type("imp")
    me.wait(".lk-said-line", "on the sheet")
    me.task("open-or-not")
    me.tab_to(".lk-form input[type=radio]")
    me.press("ArrowDown")
    me.wait("[data-task='open-or-not'][data-state='answered']")
    for task in ("milliamps", "coil-ohms"):
        me.task(task)
        me.tab_to(".lk-form input[type=text]")
        keys.type("3")
        me.press("Enter")
        me.wait(f"[data-task='{task}'][data-state='answered']")

    # the check and the next task keep the focus; then the hand-in
    me.tab_to(".lk-task-help .check")
    me.press("Enter")
    me.wait(".lk-task-help .busy", "the result stands below")
    assert me.at(".lk-task-help .check")
    me.tab_to(".lk-task-help .onward")
    me.press("Enter")
    s.page.locator("[data-task='coil-ohms'][aria-current]").wait_for(state="detached")
    me.shown()
    assert me.at(".lk-task-help .onward")
    me.tab_to(".lk-task-list .lk-action", most=120, back=True)
    me.press("Enter")
    me.wait(".lk-task-list .where", "Written: ")
    (file,) = s.lab.root.glob("kinds--r-vale--*.json")
    answers = read_handin(file).answers
    file.unlink()
    assert {"land", "checkout", "predict-volts", "find-it", "could-it", "open-or-not", "milliamps", "coil-ohms"} <= set(
        answers
    )
    assert "77" in [wire["no"] for wire in answers["land"]["wires"]]

    # no power before the board is tested, said where it was tried
    me.tab_to("[data-part='F1']:not(.lk-form *)", most=150)
    me.press("Enter")
    me.wait(".lk-bench-view .lk-said", "stays")
    assert s.page.locator(".jp-Cell").count() == cells  # no key became a command of the page around
