"""JupyterLab with folders of its own and Chromium to look at it: for tests, for pictures, for `labkit speed --browser`.

Nothing else uses it. It needs ``playwright`` and a Chromium of the system's; neither is downloaded.
"""

from __future__ import annotations

import json
import os
import secrets
import shutil
import socket
import subprocess
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from labkit.base import LabkitError
from labkit.notebook.server import arguments, environment

__all__ = ["FLAGS", "Lab", "Sheet", "chromium_path", "start_chromium"]

FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
)
_NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
_FOLDERS = ("CONFIG_DIR", "DATA_DIR", "RUNTIME_DIR")


def chromium_path() -> str:
    """Where the system's Chromium is.

    Raises
    ------
    LabkitError
        If there is none.
    """
    found = next((path for name in _NAMES if (path := shutil.which(name))), None)
    if found is None:
        raise LabkitError(
            "there is no Chromium here to measure with",
            try_this="install it, on Debian: apt install chromium",
            code="browser-missing",
        )
    return found


@contextmanager
def start_chromium() -> Iterator[Any]:
    """A headless Chromium, driven by playwright, for the length of the block.

    Raises
    ------
    LabkitError
        If playwright or Chromium is missing.
    """
    path = chromium_path()
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        raise LabkitError(
            "the package playwright, which drives the browser, is not installed here",
            try_this="pip install playwright (it needs no download of a browser)",
            code="browser-missing",
        ) from None
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, headless=True, args=list(FLAGS))
        try:
            yield browser
        finally:
            browser.close()


class Lab:
    """JupyterLab as ``labkit lab`` starts it, on this machine only, with settings of its own.

    Parameters
    ----------
    home
        An empty folder; its ``work`` is where notebooks are.

    Raises
    ------
    LabkitError
        If the server does not come up; its last words are told.
    """

    def __init__(self, home: Path) -> None:
        self.home = home
        self.root = home / "work"
        self.root.mkdir()
        self.token = secrets.token_hex(16)
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = probe.getsockname()[1]
        own = [f"JUPYTER_{name}" for name in _FOLDERS] + ["JUPYTERLAB_SETTINGS_DIR", "JUPYTERLAB_WORKSPACES_DIR"]
        env = environment(os.environ) | {name: str(home / name.lower()) for name in [*own, "IPYTHONDIR"]}
        command = arguments(self.root, browser=False, port=self.port)
        command += [f"--IdentityProvider.token={self.token}", "--allow-root", "--ServerApp.ip=127.0.0.1"]
        command += ["--LabApp.expose_app_in_browser=True"]
        self._log = (home / "server.log").open("w")
        self._process = subprocess.Popen(command, env=env, stdout=self._log, stderr=subprocess.STDOUT)
        for _ in range(600):
            try:
                self.ask("status")
                return
            except OSError:
                if self._process.poll() is not None:
                    break
                time.sleep(0.1)
        self._process.terminate()
        self._process.wait(20)
        self._log.close()
        said = (home / "server.log").read_text()[-2000:]
        raise LabkitError(f"JupyterLab did not start:\n{said}", code="lab-start")

    def ask(self, what: str, method: str = "GET") -> Any:
        """Ask the server's interface, e.g. ``"kernels"``."""
        request = urllib.request.Request(f"http://127.0.0.1:{self.port}/api/{what}", method=method)
        request.add_header("Authorization", f"token {self.token}")
        with urllib.request.urlopen(request, timeout=10) as answer:
            text = answer.read()
        return json.loads(text) if text else None

    def end_kernels(self) -> None:
        """Shut down every kernel."""
        for kernel in self.ask("kernels"):
            self.ask(f"kernels/{kernel['id']}", "DELETE")

    def stop(self) -> None:
        """Shut down kernels and server."""
        self.end_kernels()
        self._process.terminate()
        self._process.wait(20)
        self._log.close()


class Sheet:
    """One notebook, open in one page.

    Parameters
    ----------
    lab, page
        The server, and a page of the browser.
    name
        The notebook's file in ``lab.root``.
    """

    def __init__(self, lab: Lab, page: Any, name: str) -> None:
        self.lab, self.page, self.name = lab, page, name

    def write(self, *cells: str) -> None:
        """Write the notebook, a code cell for each text."""
        import nbformat

        book = nbformat.v4.new_notebook(
            cells=[nbformat.v4.new_code_cell(cell) for cell in cells],
            metadata={"kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"}},
        )
        nbformat.write(book, self.lab.root / self.name)

    def open(self, query: str = "&reset") -> None:
        """Open it and wait until its kernel listens: a cell that runs earlier runs nowhere."""
        self.page.goto(f"http://127.0.0.1:{self.lab.port}/lab/tree/{self.name}?token={self.lab.token}{query}")
        self.wait_kernel()

    def open_in_place(self) -> None:
        """Open it in a page that shows JupyterLab already; what is open there is closed, unsaved.

        Quicker than :meth:`open`. The name must be new to the page.
        """
        self.page.evaluate(
            """async (path) => {
              const { shell, commands } = window.jupyterapp;
              for (const old of [...shell.widgets('main')]) old.dispose();
              await commands.execute('docmanager:open', { path, factory: 'Notebook' });
            }""",
            self.name,
        )
        self.wait_kernel()

    def wait_kernel(self) -> None:
        """Wait until the notebook is on the page and its kernel listens."""
        self.page.wait_for_selector(".jp-NotebookPanel .jp-Notebook .jp-Cell")
        for _ in range(300):
            sessions = [s for s in self.lab.ask("sessions") if s["path"] == self.name]
            if sessions and sessions[0]["kernel"]["execution_state"] == "idle" and sessions[0]["kernel"]["connections"]:
                break
            self.page.wait_for_timeout(100)
        self.page.wait_for_function(
            """() => {
              const kernel = window.jupyterapp.shell.currentWidget?.sessionContext?.session?.kernel;
              return kernel?.connectionStatus === 'connected' && kernel.status === 'idle';
            }"""
        )

    def wait_idle(self) -> None:
        """Wait until no cell runs."""
        self.page.wait_for_function(
            "() => document.querySelector('.jp-Notebook-ExecutionIndicator')?.dataset.status === 'idle'"
        )

    def theme(self, name: str) -> None:
        """``"Light"`` or ``"Dark"``."""
        light = str(name == "Light").lower()
        if self.page.evaluate("document.body.dataset.jpThemeLight") != light:
            self.command("apputils:change-theme", f"{{theme: 'JupyterLab {name}'}}")
            self.page.wait_for_selector(f"body[data-jp-theme-light='{light}']", state="attached")
            self.page.wait_for_selector(".jp-Notebook", state="visible")

    def command(self, name: str, arguments: str = "{}") -> None:
        """Run one of JupyterLab's commands."""
        self.page.evaluate(f"void window.jupyterapp.commands.execute('{name}', {arguments})")

    def run_all(self) -> None:
        """Run every cell and wait."""
        self.page.evaluate("() => window.jupyterapp.commands.execute('notebook:run-all-cells').then(() => null)")
        self.wait_idle()

    def run_cell(self, number: int) -> None:
        """Run one cell, counted from 0, or from the end with -1."""
        cells = "window.jupyterapp.shell.currentWidget.content"
        self.page.evaluate(f"{cells}.activeCellIndex = {number} < 0 ? {cells}.widgets.length + {number} : {number}")
        self.command("notebook:run-cell")

    def centre(self, selector: str) -> tuple[float, float]:
        """The middle of the first element of that kind, brought into view."""
        box = self.page.locator(selector).first
        box.scroll_into_view_if_needed()
        size = box.bounding_box()
        return size["x"] + size["width"] / 2, size["y"] + size["height"] / 2

    def point_at(self, selector: str) -> None:
        """Move the pointer there."""
        self.page.mouse.move(*self.centre(selector))
