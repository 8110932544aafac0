"""A real JupyterLab with folders of its own, and the system's Chromium to look at it."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from labkit.base import LabkitError
from labkit.notebook import _browser

# where the screenshots go that a person looks at; nothing is written without it
PICTURES = os.environ.get("LABKIT_PICTURES")


class Sheet(_browser.Sheet):
    """One notebook, open in one page."""

    def shot(self, name: str) -> None:
        if PICTURES:
            Path(PICTURES).mkdir(parents=True, exist_ok=True)
            self.page.screenshot(path=f"{PICTURES}/{name}.png")


@pytest.fixture(scope="session")
def lab(tmp_path_factory):
    try:
        _browser.chromium_path()
    except LabkitError as missing:
        pytest.skip(str(missing))
    lab = _browser.Lab(tmp_path_factory.mktemp("lab"))
    yield lab
    lab.stop()


@pytest.fixture(scope="session")
def chromium(lab):
    with _browser.start_chromium() as browser:
        yield browser


@pytest.fixture
def sheet(lab, chromium, request):
    """Call it with the cells' texts: a notebook of these, open, run, in a laptop-sized page."""
    opened = []

    def open_sheet(*cells: str, width: int = 1024, height: int = 768, run: bool = True, dark: bool = False) -> Sheet:
        name = f"{request.node.name[:40]}-{len(opened)}.ipynb".replace("[", "-").replace("]", "")
        context = chromium.new_context(viewport={"width": width, "height": height})
        page = context.new_page()
        page.set_default_timeout(20_000)
        problems: list[str] = []
        page.on("pageerror", lambda wrong: problems.append(str(wrong)))
        page.on("console", lambda m: problems.append(m.text) if m.type == "error" and "lk-" in m.text else None)
        made = Sheet(lab, page, name)
        made.write(*cells)
        opened.append((context, problems))
        made.open()
        made.command("application:toggle-left-area")
        made.theme("Dark" if dark else "Light")
        if run:
            made.run_all()
        return made

    yield open_sheet
    for context, problems in opened:
        context.close()
        assert not problems, problems
    lab.end_kernels()
