"""axe-core looks at every view, in both themes, and finds nothing serious.

axe-core is npm's; ``npm install --no-save axe-core`` beside the project puts it where this test looks.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

pytestmark = pytest.mark.browser

AXE = Path(os.environ.get("LABKIT_AXE", Path(__file__).parents[2] / "node_modules" / "axe-core" / "axe.min.js"))
CELLS = (
    """
import labkit as lk
from labkit.bench import Bench
from labkit.notebook import BenchView, LadderView, LiveTrace, MeterView, panel
bench = Bench("orchard")
bench.power_up()
bench.load("K1 := S1 AND (S2 OR K1_A); P1 := K1_A;")
""",
    "panel(bench)",
    "BenchView(bench)",
    'LiveTrace(bench, ["pos:S2", "K1", "coil:K1"])',
    "LadderView(bench)",
    "MeterView(bench)",
    'lk.lesson_view(lk.lesson("seal-in", student="R. Vale"))',
)
CONTROLS = ("hold-button", "emergency-stop", "selector", "key-switch", "sensor-slider", "pilot-light", "pace-bar")
VIEWS = ("bench-view", "live-trace", "ladder-view", "meter-view", "task-list", "task-help", "form")
ROOTS = (*CONTROLS, *VIEWS)


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_axe_finds_nothing_serious(sheet, dark):
    if not AXE.exists():
        pytest.skip("needs axe-core: npm install --no-save axe-core")
    s = sheet(*CELLS, height=4600, dark=dark)
    for root in ROOTS:
        s.page.wait_for_selector(f".lk-{root}")
    s.page.wait_for_selector(".lk-bench-view [data-part='S2']")
    s.page.locator(".lk-bench-view .tools select").first.select_option("wires")
    s.page.locator(".lk-bench-view summary").click()
    s.page.get_by_role("button", name="Hint 1 of").click()
    s.page.locator(".lk-form select").first.select_option("1")
    s.page.get_by_role("button", name="Check it now").click()
    s.page.wait_for_selector(".lk-task-help .verdict table")
    s.page.evaluate(AXE.read_text("utf-8"))
    found = s.page.evaluate(
        "(roots) => axe.run({include: roots.map(r => ['.lk-' + r])}, {resultTypes: ['violations']})", list(ROOTS)
    )
    assert found["passes"], "axe looked at nothing"
    serious = [
        f"{v['id']}: {v['help']}: " + "; ".join(n["html"][:160] + " " + n["failureSummary"] for n in v["nodes"][:3])
        for v in found["violations"]
        if v["impact"] in ("serious", "critical")
    ]
    s.shot(f"all-{'dark' if dark else 'light'}")
    assert not serious, "\n".join(serious)


def test_at_twice_the_size_nothing_is_cut_off(sheet):
    """WCAG 2.2, success criterion 1.4.10: at 200 % of a 1024-pixel screen the sheets need no sideways scrolling."""
    s = sheet(*CELLS, width=512, height=1600)
    for root in ROOTS:
        s.page.wait_for_selector(f".lk-{root}", state="attached")
    s.page.wait_for_timeout(500)
    wide = s.page.evaluate(
        """(roots) => roots.flatMap(r => [...document.querySelectorAll('.lk-' + r)]
            .filter(e => e.offsetWidth > e.closest('.jp-OutputArea-output').offsetWidth + 1)
            .map(e => r))""",
        list(ROOTS),
    )
    assert wide == []
