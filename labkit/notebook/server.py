"""JupyterLab as labkit starts it: presses reach the kernel without delay, a notebook keeps its views."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from jupyter_server.services.kernels.connection.channels import ZMQChannelsWebsocketConnection

__all__ = ["NoDelayConnection", "arguments", "environment", "launch"]


class NoDelayConnection(ZMQChannelsWebsocketConnection):
    """The kernel's websocket without Nagle's algorithm.

    Small messages otherwise wait for the browser's delayed acknowledgement: measured, 40 ms on each
    press.
    """

    def connect(self) -> Any:
        """Switch the delay off, then connect as always."""
        self.websocket_handler.set_nodelay(True)
        return super().connect()


def arguments(folder: Path, *, browser: bool = True, port: int | None = None) -> list[str]:
    """The command that starts JupyterLab in `folder`, for this interpreter."""
    command = [
        sys.executable,
        "-m",
        "jupyterlab",
        f"--ServerApp.root_dir={folder.resolve()}",
        f"--ServerApp.kernel_websocket_connection_class={NoDelayConnection.__module__}.{NoDelayConnection.__name__}",
        # a training room may be offline: nothing is asked of the outside
        "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",
        "--LabApp.news_url=None",
        "--LabApp.extension_manager=readonly",
    ]
    if not browser:
        command.append("--no-browser")
    if port is not None:
        command += [f"--ServerApp.port={port}", "--ServerApp.port_retries=0"]
    return command


def environment(given: Mapping[str, str]) -> dict[str, str]:
    """The environment `given`, with labkit's settings folder in front of the user's other ones.

    The user's own configuration is read as always and is not written to.
    """
    settings = str(Path(__file__).resolve().parent / "settings")
    others = given.get("JUPYTER_CONFIG_PATH", "")
    return {**given, "JUPYTER_CONFIG_PATH": os.pathsep.join(part for part in (settings, others) if part)}


def launch(folder: Path, *, browser: bool = True, port: int | None = None) -> int:
    """Start JupyterLab in `folder` and stay until it ends; returns its exit code."""
    process = subprocess.Popen(arguments(folder, browser=browser, port=port), env=environment(os.environ))
    while True:
        try:
            return process.wait()
        except KeyboardInterrupt:
            # JupyterLab got the interrupt too and asks whether to stop: it decides, we only wait
            continue
