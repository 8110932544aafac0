"""What every widget of labkit has: commands in, a sentence out, a still picture."""

from __future__ import annotations

import asyncio
from typing import Any, ClassVar

import anywidget
import traitlets

from labkit.base import LabkitError
from labkit.notebook._commands import Choice, Command, Flag, Number, Once, Spec, Word, read_command
from labkit.notebook._console import Console, console
from labkit.notebook._page import picture

__all__ = ["BenchWidget", "Choice", "Command", "Flag", "Number", "Spec", "Word"]


class BenchWidget(anywidget.AnyWidget):
    """A widget with or without a bench behind it.

    A child states its commands in ``spec``, handles them in :meth:`_obey`, reads the bench in
    :meth:`_look`, and draws itself in :meth:`svg`. State is in traits, so the picture is a function of
    the traits and everything works without a browser.

    Parameters
    ----------
    bench
        The bench to work; without one the widget keeps its own state, for panels of one's own.
    """

    spec: ClassVar[Spec] = {}
    said = traitlets.Unicode("", help="why the last thing that was done was refused").tag(sync=True)

    def __init__(self, bench: Any = None, **traits: Any) -> None:
        self.bench = bench
        self._once = Once()
        try:
            self._home: asyncio.AbstractEventLoop | None = asyncio.get_running_loop()
        except RuntimeError:
            self._home = None
        super().__init__(**traits)
        self.on_msg(self._receive)
        if bench is not None:
            self.hub.join(self)
            self.refresh()

    @property
    def hub(self) -> Console:
        """The hub through which this widget works its bench."""
        return console(self.bench)

    def refresh(self) -> None:
        """Read the bench again and show it."""
        if self.bench is None:
            return
        try:
            self._look()
        except LabkitError as wrong:  # one view that cannot look must not keep the others from looking
            self.said = str(wrong)

    def _receive(self, _widget: object, message: object, _buffers: object) -> None:
        """Take a message of the page to the thread that this widget was made in, and handle it there.

        JupyterLab may deliver messages on a thread of their own (a subshell) while a cell works the bench
        on the main one; a bench is worked by one hand at a time.
        """
        if self._home is None or self._is_home():
            self._handle(message)
        else:
            self._home.call_soon_threadsafe(self._handle, message)

    def _is_home(self) -> bool:
        try:
            return asyncio.get_running_loop() is self._home
        except RuntimeError:
            return False

    def _handle(self, message: object) -> None:
        try:
            if isinstance(message, dict) and message.get("do") == "hello":
                self._hello()
                return
            command = read_command(message, self.spec)
            if self._once.is_new(command):
                self.said = self._obey(command) or ""
        except LabkitError as wrong:
            self.said = str(wrong)

    def _hello(self) -> None:
        """A view of this widget came up: the bench comes alive unless someone stopped it."""
        if self.bench is not None and self.hub.state == "stopped" and not self.hub.kept_still:
            self.hub.start()

    def _obey(self, command: Command) -> str | None:
        """Do what a read and valid command says; return a sentence if it was refused."""
        raise NotImplementedError

    def _look(self) -> None:
        """Set the traits to what the bench says."""

    # still forms -----------------------------------------------------------------------------------
    def in_words(self) -> str:
        """The state in words: the plain-text form, and the alternative text of the picture."""
        return type(self).__name__

    def svg(self) -> str:
        """The still picture."""
        raise NotImplementedError

    def __repr__(self) -> str:
        return f"{type(self).__name__}({self.in_words()})"

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        bundle = super()._repr_mimebundle_(**kwargs)
        data, meta = bundle if isinstance(bundle, tuple) else (bundle or {}, {})
        return dict(data) | {"text/plain": repr(self), "text/html": picture(self.svg(), self.in_words())}, meta
