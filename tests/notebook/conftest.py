"""Fixtures of the room: a fake bench, a wall clock that the test moves, a way to speak as a page does."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import pytest

_spec = importlib.util.spec_from_file_location("labkit_fake_bench", Path(__file__).parent / "fake_bench.py")
_module = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(_module)


class Wall:
    """A clock that stands still until it is moved."""

    def __init__(self) -> None:
        self.now = 100.0

    def __call__(self) -> float:
        return self.now


class Page:
    """One view of a widget, as the browser would speak."""

    def __init__(self, widget, view="page1"):
        self.widget, self.view, self.no = widget, view, 0

    def send(self, do, **fields):
        self.no += 1
        self.widget._receive(self.widget, {"do": do, "view": self.view, "no": self.no, **fields}, [])


@pytest.fixture
def bench():
    return _module.FakeBench()


@pytest.fixture
def wall():
    return Wall()


@pytest.fixture
def page_of():
    return Page


@pytest.fixture
def live(bench, wall):
    """The hub of the bench, paced by the test's clock: ``live(0.01)`` moves both by ten milliseconds."""
    from labkit.notebook._console import _CONSOLES, Console

    hub = Console(bench, clock=wall)
    _CONSOLES[bench] = hub

    class Loop:
        """Stands in for the event loop: the test itself calls the ticks."""

        def call_later(self, _delay, _what):
            return self

        def cancel(self):
            pass

    hub._loop = Loop()
    hub._anchor()

    def move(seconds, step=0.004):
        left = seconds
        while left > 1e-9:
            wall.now += min(step, left)
            left -= step
            hub.tick()

    move.hub = hub
    return move
