"""A real JupyterLab with folders of its own, and the system's Chromium to look at it."""

from __future__ import annotations

import json
import os
import secrets
import socket
import subprocess
import time
import urllib.request
from pathlib import Path

import nbformat
import pytest

from labkit.notebook.server import arguments, environment

CHROMIUM = "/usr/bin/chromium"
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
         "--disable-component-update", "--disable-sync", "--disable-dev-shm-usage"]  # fmt: skip
# where the screenshots go that a person looks at; nothing is written without it
PICTURES = os.environ.get("LABKIT_PICTURES")


class Lab:
    """JupyterLab as ``labkit lab`` starts it."""

    def __init__(self, home: Path) -> None:
        self.home = home
        self.root = home / "work"
        self.root.mkdir()
        self.token = secrets.token_hex(16)
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = probe.getsockname()[1]
        folders = ("CONFIG_DIR", "DATA_DIR", "RUNTIME_DIR")
        own = [f"JUPYTER_{name}" for name in folders] + ["JUPYTERLAB_SETTINGS_DIR", "JUPYTERLAB_WORKSPACES_DIR"]
        env = environment(os.environ) | {name: str(home / name.lower()) for name in [*own, "IPYTHONDIR"]}
        command = arguments(self.root, browser=False, port=self.port)
        command += [f"--IdentityProvider.token={self.token}", "--allow-root", "--ServerApp.ip=127.0.0.1"]
        command += ["--LabApp.expose_app_in_browser=True"]
        self.log = (home / "server.log").open("w")
        self.process = subprocess.Popen(command, env=env, stdout=self.log, stderr=subprocess.STDOUT)
        for _ in range(600):
            try:
                self.ask("status")
                return
            except OSError:
                assert self.process.poll() is None, (home / "server.log").read_text()
                time.sleep(0.1)
        raise AssertionError((home / "server.log").read_text())

    def ask(self, what: str, method: str = "GET"):
        request = urllib.request.Request(f"http://127.0.0.1:{self.port}/api/{what}", method=method)
        request.add_header("Authorization", f"token {self.token}")
        with urllib.request.urlopen(request, timeout=10) as answer:
            text = answer.read()
        return json.loads(text) if text else None

    def stop(self) -> None:
        for kernel in self.ask("kernels"):
            self.ask(f"kernels/{kernel['id']}", "DELETE")
        self.process.terminate()
        self.process.wait(20)
        self.log.close()


class Sheet:
    """One notebook, open in one page."""

    def __init__(self, lab: Lab, page, name: str) -> None:
        self.lab, self.page, self.name = lab, page, name

    def open(self, query: str = "&reset") -> None:
        self.page.goto(f"http://127.0.0.1:{self.lab.port}/lab/tree/{self.name}?token={self.lab.token}{query}")
        self.page.wait_for_selector(".jp-NotebookPanel .jp-Notebook .jp-Cell")
        for _ in range(300):
            sessions = [s for s in self.lab.ask("sessions") if s["path"] == self.name]
            if sessions and sessions[0]["kernel"]["execution_state"] == "idle" and sessions[0]["kernel"]["connections"]:
                break
            self.page.wait_for_timeout(100)
        self.wait_idle()

    def wait_idle(self) -> None:
        self.page.wait_for_function(
            "() => document.querySelector('.jp-Notebook-ExecutionIndicator')?.dataset.status === 'idle'"
        )

    def theme(self, name: str) -> None:
        light = str(name == "Light").lower()
        if self.page.evaluate("document.body.dataset.jpThemeLight") != light:
            self.page.evaluate(
                f"window.jupyterapp.commands.execute('apputils:change-theme', {{theme: 'JupyterLab {name}'}})"
            )
            self.page.wait_for_selector(f"body[data-jp-theme-light='{light}']", state="attached")
            self.page.wait_for_selector(".jp-Notebook", state="visible")

    def command(self, name: str) -> None:
        self.page.evaluate(f"window.jupyterapp.commands.execute('{name}')")

    def run_all(self) -> None:
        self.command("notebook:run-all-cells")
        self.page.wait_for_timeout(300)
        self.wait_idle()

    def shot(self, name: str) -> None:
        if PICTURES:
            Path(PICTURES).mkdir(parents=True, exist_ok=True)
            self.page.screenshot(path=f"{PICTURES}/{name}.png")

    def centre(self, selector: str) -> tuple[float, float]:
        box = self.page.locator(selector).first
        box.scroll_into_view_if_needed()
        size = box.bounding_box()
        return size["x"] + size["width"] / 2, size["y"] + size["height"] / 2

    def point_at(self, selector: str) -> None:
        self.page.mouse.move(*self.centre(selector))


@pytest.fixture(scope="session")
def lab(tmp_path_factory):
    if not Path(CHROMIUM).exists():
        pytest.skip("needs Chromium: apt install chromium")
    lab = Lab(tmp_path_factory.mktemp("lab"))
    yield lab
    lab.stop()


@pytest.fixture(scope="session")
def chromium(lab):
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, headless=True, args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture
def sheet(lab, chromium, request):
    """Call it with the cells' texts: a notebook of these, open, run, in a laptop-sized page."""
    opened = []

    def open_sheet(*cells: str, width: int = 1024, height: int = 768, run: bool = True, dark: bool = False) -> Sheet:
        name = f"{request.node.name[:40]}-{len(opened)}.ipynb".replace("[", "-").replace("]", "")
        book = nbformat.v4.new_notebook(
            cells=[nbformat.v4.new_code_cell(cell) for cell in cells],
            metadata={"kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"}},
        )
        nbformat.write(book, lab.root / name)
        context = chromium.new_context(viewport={"width": width, "height": height})
        page = context.new_page()
        page.set_default_timeout(20_000)
        problems: list[str] = []
        page.on("pageerror", lambda wrong: problems.append(str(wrong)))
        page.on("console", lambda m: problems.append(m.text) if m.type == "error" and "lk-" in m.text else None)
        made = Sheet(lab, page, name)
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
    for kernel in lab.ask("kernels"):
        lab.ask(f"kernels/{kernel['id']}", "DELETE")
