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

    def piece(self, locator, name: str) -> None:
        """A picture of one piece of the page."""
        if PICTURES:
            Path(PICTURES).mkdir(parents=True, exist_ok=True)
            locator.screenshot(path=f"{PICTURES}/{name}.png")


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


class Desk:
    """One page with JupyterLab in it, used by test after test: loading it is most of a short test's time."""

    def __init__(self, lab, chromium) -> None:
        self.lab, self.chromium = lab, chromium
        self.page = None
        self.count = 0
        self.problems: list[str] = []

    def fresh(self) -> bool:
        """Have a page; whether it is a new one."""
        if self.page is not None:
            return False
        self.page = self.chromium.new_context().new_page()
        self.page.set_default_timeout(20_000)
        self.page.on("pageerror", lambda wrong: self.problems.append(str(wrong)))
        self.page.on(
            "console", lambda m: self.problems.append(m.text) if m.type == "error" and "lk-" in m.text else None
        )
        return True

    def drop(self) -> None:
        if self.page is not None:
            self.page.context.close()
            self.page = None


@pytest.fixture(scope="session")
def desk(lab, chromium):
    desk = Desk(lab, chromium)
    yield desk
    desk.drop()


@pytest.fixture
def sheet(desk, lab, request):
    """Call it with the cells' texts: a notebook of these, open, run, in a laptop-sized page."""
    failed = request.session.testsfailed
    desk.problems.clear()

    def open_sheet(*cells: str, width: int = 1024, height: int = 768, run: bool = True, dark: bool = False) -> Sheet:
        desk.count += 1
        name = f"{request.node.name[:40]}-{desk.count}.ipynb".replace("[", "-").replace("]", "")
        new = desk.fresh()
        desk.page.set_viewport_size({"width": width, "height": height})
        made = Sheet(lab, desk.page, name)
        made.write(*cells)
        if new:
            made.open()
            made.command("application:toggle-left-area")
        else:
            made.open_in_place()
        made.theme("Dark" if dark else "Light")
        if run:
            made.run_all()
        return made

    yield open_sheet
    problems = list(desk.problems)
    if request.session.testsfailed > failed:
        desk.drop()  # whatever went wrong stays out of the next test
    elif desk.page is not None:  # a test that was skipped may have opened none
        desk.page.mouse.up()
    lab.end_kernels()
    assert not problems, problems
