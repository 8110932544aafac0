"""Press to lamp and kernel load in a real JupyterLab, for ``labkit speed --browser`` and the browser tests.

These are times and shares of this machine, not ratios: they say whether a finger feels the delay.
"""

from __future__ import annotations

import statistics
import tempfile
from pathlib import Path
from typing import Any

from labkit.base import LabkitError
from labkit.notebook._browser import Lab, Sheet, start_chromium

__all__ = ["BOUNDS", "CLOCK", "all_views", "kernel_percent", "press_to_lamp", "rows", "scoped_panel"]

BOUNDS = {
    "press_to_lamp_ms_median": (20.0, 12.0),
    "press_to_lamp_ms_p95": (40.0, 25.0),
    "kernel_percent_idle_live": (15.0, 5.0),
    "kernel_percent_all_views": (40.0, 15.0),
}
"""Key -> floor and aim; smaller is better."""

_START = """
import labkit as lk
from labkit.notebook import BenchView, LadderView, LiveTrace, MeterView, PaceBar, button, lamp, panel
from ipywidgets import HBox
%load_ext labkit
bench = lk.Bench("orchard")
bench.power_up()
bench.load("K1 := S1 AND (S2 OR K1_A); P1 := K1_A; P2 := NOT K1_A; P4 := S2;")
"""
CLOCK = 'import time; _ = open("used.txt", "w").write(f"{time.process_time()} {time.monotonic()}")'
"""A cell that tells how much processor time the kernel has used, and when."""
_SIGNALS = '["pos:S2", "S2", "K1", "coil:K1", "pole:K1", "K1_A", "lit:P1"]'
_SCOPE = f"LiveTrace(bench, {_SIGNALS})"
_BUTTON = ".lk-hold-button button"
_LAMP = ".lk-pilot-light"


def scoped_panel() -> tuple[str, ...]:
    """The cells that latency is measured on: a button, the lamp that the program drives from it, the scope running."""
    return (_START, 'HBox([button(bench, "S2"), lamp(bench, "P4")])', _SCOPE, CLOCK)


def all_views() -> tuple[str, ...]:
    """The cells of a bench with every view open."""
    views = ("panel(bench)", "BenchView(bench)", _SCOPE, "LadderView(bench)", "MeterView(bench)")
    return (_START, *views, CLOCK)


def press_to_lamp(sheet: Sheet, count: int = 40) -> list[float]:
    """Press `count` times; milliseconds from the pointer's going down to the lamp in the page, rising.

    Parameters
    ----------
    sheet
        A notebook of :func:`scoped_panel`, open and run.
    """
    page = sheet.page
    page.wait_for_selector(_LAMP)
    page.evaluate(
        f"""() => {{
          const lamp = document.querySelector('{_LAMP}');
          window.lags = []; let pressed = 0;
          document.addEventListener('pointerdown', () => {{ pressed = performance.now(); }}, true);
          new MutationObserver(() => {{
            if (!lamp.classList.contains('lit') || !pressed) return;
            window.lags.push(performance.now() - pressed);
            pressed = 0;
          }}).observe(lamp, {{attributes: true, attributeFilter: ['class']}});
        }}"""
    )
    sheet.point_at(_BUTTON)
    for k in range(count):
        page.mouse.down()
        page.wait_for_selector(f"{_LAMP}.lit")
        page.wait_for_timeout(60 + 7 * k % 50)  # presses fall anywhere in a scan and between two ticks
        page.mouse.up()
        page.wait_for_selector(f"{_LAMP}:not(.lit)")
        page.wait_for_timeout(150 + 3 * k % 90)
    return sorted(page.evaluate("window.lags"))


def kernel_percent(sheet: Sheet, seconds: float = 10.0) -> float:
    """Processor time of the notebook's kernel while nobody does anything, in percent of one core.

    Parameters
    ----------
    sheet
        A notebook whose last cell is :data:`CLOCK`, open and run.
    """

    def used() -> tuple[float, float]:
        told = sheet.lab.root / "used.txt"
        told.unlink(missing_ok=True)
        sheet.run_cell(-1)
        for _ in range(300):
            if told.exists() and len(words := told.read_text().split()) == 2:
                return float(words[0]), float(words[1])
            sheet.page.wait_for_timeout(50)
        raise LabkitError("the kernel does not answer", code="speed-kernel")

    cpu, wall = used()
    sheet.page.wait_for_timeout(seconds * 1000)
    cpu_then, wall_then = used()
    return 100.0 * (cpu_then - cpu) / (wall_then - wall)


def rows(quick: bool = False) -> list[dict[str, Any]]:
    """Every row of ``labkit speed --browser``.

    Raises
    ------
    LabkitError
        If playwright or Chromium is missing.
    """
    count, seconds = (10, 4.0) if quick else (40, 10.0)
    with start_chromium() as browser, tempfile.TemporaryDirectory() as home:
        lab = Lab(Path(home))
        try:
            sheet = _open(lab, browser, "press", scoped_panel())
            lags = press_to_lamp(sheet, count)
            idle = kernel_percent(sheet, seconds)
            sheet.page.context.close()
            lab.end_kernels()
            busy = kernel_percent(_open(lab, browser, "views", all_views()), seconds)
        finally:
            lab.stop()
    told = f"{count} presses, most {lags[-1]:.1f} ms"
    return [
        _row("press_to_lamp_ms_median", statistics.median(lags), f"milliseconds; {told}"),
        _row("press_to_lamp_ms_p95", lags[max(0, round(0.95 * count) - 1)], f"milliseconds; {told}"),
        _row("kernel_percent_idle_live", idle, "percent of a core; button, lamp and scope on the page, nobody presses"),
        _row("kernel_percent_all_views", busy, "percent of a core; every view on the page, nobody presses"),
    ]


def _open(lab: Lab, browser: Any, name: str, cells: tuple[str, ...]) -> Sheet:
    page = browser.new_context(viewport={"width": 1280, "height": 2400}).new_page()
    page.set_default_timeout(30_000)
    sheet = Sheet(lab, page, f"{name}.ipynb")
    sheet.write(*cells)
    sheet.open()
    sheet.run_all()
    slip = page.locator("[data-mime-type='application/vnd.jupyter.error']")
    if slip.count():
        raise LabkitError(f"the notebook to measure with stopped: {slip.first.inner_text()}", code="speed-notebook")
    page.wait_for_selector(".lk-live-trace")
    page.wait_for_timeout(1500)  # pages and fonts come to rest
    return sheet


def _row(key: str, value: float, note: str) -> dict[str, Any]:
    floor, aim = BOUNDS[key]
    return {"key": key, "ratio": value, "floor": floor, "aim": aim, "lower_is_better": True, "note": note}
