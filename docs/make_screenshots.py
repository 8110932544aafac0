"""Makes the pictures of the live views in docs/pictures/views: python docs/make_screenshots.py [FOLDER]

A real JupyterLab and the system's Chromium show each view on a paused bench, in the light and the dark theme. Fonts
differ between machines, so these pictures are looked at, not compared.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from typing import Any

from PIL import Image

from labkit.base import write_atomic
from labkit.notebook._browser import Lab, Sheet, start_chromium

HERE = Path(__file__).parent / "pictures" / "views"
MOST_BYTES = 150_000

START = """
import labkit as lk
from labkit.notebook import console
%load_ext labkit
bench = lk.Bench("orchard")
bench.power_up()
"""
PROGRAM = """%%ladder hold --quiet
(* Wash pump
   holds itself through its own auxiliary *)
|   S1        S2                K1   |
|--| |---+---| |---+-----------( )---|
|        |  K1_A   |                 |
|        +---| |---+                 |
(* Running lamp *)
|  K1_A                         P1   |
|--| |-------------------------( )---|
(* Stopped lamp *)
|  K1_A                         P2   |
|--|/|-------------------------( )---|
"""
PRESS = 'bench.press("S2", lk.ms(300)); bench.wait(lk.s(1))'
SCOPE = 'lk.LiveTrace(bench, ["pos:S2", "S2", "K1", "coil:K1", "pole:K1", "K1_A", "lit:P1"], window_s=2.0)'
STILL = "console(bench).pause()"
TAP = 'console(bench).stop(); bench.press("S2", lk.s(3)); bench.wait(lk.ms(6))'


def panel(sheet: Sheet) -> str:
    """Large controls, the pump running."""
    sheet.page.wait_for_selector(".lk-pilot-light.lit")
    return ".widget-vbox:has(.lk-pace-bar)"


def board(sheet: Sheet) -> str:
    """The board, the pump running."""
    sheet.page.wait_for_selector(".lk-bench-view [data-of='part:P1'] .lamp-lit", state="attached")
    return ".lk-bench-view"


def close_up(sheet: Sheet) -> str:
    """The board close up, with the meter's leads on it."""
    board(sheet)
    view = sheet.page.locator(".lk-bench-view")
    for lead, terminal in (("red", "K1:A1"), ("black", "K1:A2")):
        view.get_by_label("the hand").select_option(lead)
        view.locator(f"[data-terminal='{terminal}']").click()
        view.locator(f".lead.{lead}").wait_for()
    view.get_by_label("the hand").select_option("work")
    view.get_by_label("size").select_option("part:K1")
    sheet.page.evaluate("document.querySelector('.lk-bench-view .sheet').style.maxHeight = '460px'")
    view.get_by_label("size").select_option("part:F3")
    view.get_by_label("size").select_option("part:K1")
    return ".lk-bench-view"


def wiring(sheet: Sheet) -> str:
    """A new wire is asked for its particulars, a block is parked."""
    board(sheet)
    view = sheet.page.locator(".lk-bench-view")
    view.get_by_label("the hand").select_option("wires")
    view.get_by_label("wires shown").select_option("all")
    view.locator("summary").click()
    view.get_by_role("button", name="park block A1.XI2").click()
    for terminal in ("X1:24I", "P4:X1"):
        view.locator(f"[data-terminal='{terminal}']").click()
    form = view.locator(".desk form")
    form.get_by_label("number").fill("208")
    form.get_by_label("colour").select_option("BU")
    form.get_by_label("mm").select_option("0.75")
    return ".lk-bench-view"


def ladder(sheet: Sheet) -> str:
    """Power flow while the pump holds itself."""
    sheet.page.wait_for_selector(".lk-ladder-view [data-of='rung:3']")
    return ".lk-ladder-view"


def walk(sheet: Sheet) -> str:
    """One scan, at the rung that was just solved."""
    view = sheet.page.locator(".lk-ladder-view")
    view.get_by_role("button", name="Walk a scan").click()
    for _ in range(2):
        view.get_by_role("button", name="Next", exact=True).click()
    view.locator(".place", has_text="moment 3").wait_for()
    return ".lk-ladder-view"


def scope(sheet: Sheet) -> str:
    """A press measured with two cursors."""
    sheet.page.wait_for_timeout(500)
    sheet.page.get_by_role("button", name="Freeze").click()
    sheet.page.locator(".lk-live-trace canvas").focus()
    value = sheet.page.locator(".lk-live-trace .labels li .value").first
    keys = sheet.page.keyboard
    for cursor in "ba":  # both on the last change
        keys.press(cursor)
        for _ in range(14):
            keys.press("Shift+ArrowRight")
        keys.press("Shift+ArrowLeft")  # the release: the bit falls one filter and a scan later
    pressed = False
    for _ in range(14):  # from there back past the press
        keys.press("Shift+ArrowLeft")
        sheet.page.wait_for_timeout(250)  # the words follow the cursor with the next picture
        if value.inner_text() == "pressed":
            pressed = True
        elif pressed:
            break
    keys.press("Shift+ArrowRight")
    sheet.page.wait_for_timeout(100)
    return ".lk-live-trace"


def meter(sheet: Sheet) -> str:
    """Three readings noted, each with what was expected."""
    view = sheet.page.locator(".lk-meter-view")
    view.get_by_label("black").fill("X1:0V")
    view.get_by_label("black").press("Tab")
    for terminal, guess in (("X1:24V", "24"), ("K1:A1", "23.9"), ("A1:I5", "0")):
        view.get_by_label("red").fill(terminal)
        view.get_by_label("red").press("Tab")
        sheet.page.wait_for_timeout(200)
        view.get_by_label("what you expect").fill(guess)
        view.get_by_label("what you expect").press("Tab")
        sheet.page.wait_for_function(
            "() => !document.querySelector('.lk-meter-view .display').textContent.startsWith('--')"
        )
        view.get_by_role("button", name="Note it").click()
        sheet.page.wait_for_timeout(200)
    view.locator("tbody tr").nth(2).wait_for()
    return ".lk-meter-view"


def tasks(sheet: Sheet) -> str:
    """A lesson: one task answered and checked, with its picture."""
    page = sheet.page
    page.locator("[data-task='block-off']").click()
    page.get_by_label("It keeps running").check()
    page.get_by_role("button", name="Check it now").click()
    page.wait_for_selector("[data-task='block-off'][data-state='look again']")
    page.get_by_role("button", name="Hint 1 of 1").click()
    page.locator(".lk-task-help .hints li").wait_for()
    return ".widget-box:has(> .lk-task-list), .widget-box:has(> * > .lk-task-list)"


LOADED = (START, PROGRAM, "bench.load(hold)")
VIEWS: dict[str, tuple[tuple[str, ...], Callable[[Sheet], str]]] = {
    "panel": ((*LOADED, PRESS, "lk.panel(bench)", STILL), panel),
    "board": ((*LOADED, PRESS, "lk.BenchView(bench)", STILL), board),
    "board-close-up": ((*LOADED, PRESS, "lk.BenchView(bench)", STILL), close_up),
    "board-wiring": ((*LOADED, PRESS, "lk.BenchView(bench)", STILL), wiring),
    "ladder": ((*LOADED, PRESS, "lk.LadderView(bench)", STILL), ladder),
    "ladder-walk": ((*LOADED, TAP, "lk.LadderView(bench)"), walk),
    "scope": ((*LOADED, SCOPE, "import asyncio; await asyncio.sleep(0.6)", 'bench.press("S2", lk.ms(200))'), scope),
    "meter": ((*LOADED, PRESS, "lk.MeterView(bench, predict=True)", STILL), meter),
    "lesson": ((START, 'lk.lesson_view(lk.lesson("seal-in", student="R. Vale"))'), tasks),
}
"""Name -> the cells, and what is done before the picture; it gives what the picture is of."""


def small(picture: bytes) -> bytes:
    """A screenshot in 256 of its colours, the common and the strong ones: only the soft edges of letters give way."""
    image = Image.open(BytesIO(picture)).convert("RGB")
    found: Any = image.getcolors(1 << 24)
    common = sorted(found, key=lambda entry: (-entry[0] * (25 + max(entry[1]) - min(entry[1])), entry[1]))[:256]
    palette = Image.new("P", (1, 1))
    palette.putpalette([channel for _, colour in common for channel in colour])
    out = BytesIO()
    image.quantize(palette=palette, dither=Image.Dither.NONE).save(out, "PNG", optimize=True)
    return out.getvalue()


def main(folder: Path = HERE) -> None:
    """Write all pictures, or those whose names are given."""
    folder.mkdir(parents=True, exist_ok=True)
    wanted = sys.argv[2:] or list(VIEWS)
    with start_chromium() as browser, tempfile.TemporaryDirectory() as home:
        lab = Lab(Path(home))
        page = browser.new_context(viewport={"width": 1100, "height": 1500}).new_page()
        page.set_default_timeout(30_000)
        try:
            for number, name in enumerate(wanted):
                for theme in ("Light", "Dark"):
                    cells, stage = VIEWS[name]
                    sheet = Sheet(lab, page, f"{name}-{theme.lower()}.ipynb")
                    sheet.write(*cells)
                    if number or theme == "Dark":
                        sheet.open_in_place()
                    else:
                        sheet.open()
                        sheet.command("application:toggle-left-area")
                    sheet.theme(theme)
                    sheet.run_all()
                    seen = page.locator(stage(sheet)).first
                    seen.scroll_into_view_if_needed()
                    page.mouse.move(2, 2)
                    page.wait_for_timeout(500)
                    data = small(seen.screenshot())
                    if len(data) > MOST_BYTES:
                        raise SystemExit(f"{name}-{theme.lower()}.png has {len(data)} bytes, more than {MOST_BYTES}")
                    write_atomic(folder / f"{name}-{theme.lower()}.png", data)
                    print(f"{name}-{theme.lower()}.png", len(data))
                    lab.end_kernels()
        finally:
            lab.stop()


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE)
