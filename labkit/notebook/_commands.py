"""Commands from the page, read as if a stranger had sent them."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass, field

from labkit.base import LabkitError, did_you_mean

__all__ = ["Choice", "Command", "CommandError", "Flag", "Number", "Once", "Spec", "Word", "read_command"]

_MOST_NO = 2**53  # the largest whole number that a page can count to exactly
_MOST_VIEWS = 64


class CommandError(LabkitError):
    """A message from the page that is not a command of this widget."""

    default_code = "view-command"


@dataclass(frozen=True, slots=True)
class Flag:
    """True or false."""

    def read(self, value: object) -> object:
        """The value, or None if it does not fit."""
        return value if isinstance(value, bool) else None


@dataclass(frozen=True, slots=True)
class Number:
    """A number inside a range."""

    low: float
    high: float

    def read(self, value: object) -> object:
        """The value, or None if it does not fit."""
        if isinstance(value, bool) or not isinstance(value, int | float):
            return None
        return value if self.low <= value <= self.high else None  # not-a-number is in no range


@dataclass(frozen=True, slots=True)
class Choice:
    """One of some words."""

    words: tuple[str, ...]

    def read(self, value: object) -> object:
        """The value, or None if it does not fit."""
        return value if isinstance(value, str) and value in self.words else None


@dataclass(frozen=True, slots=True)
class Word:
    """A short text such as a terminal; what it means is for the bench to judge."""

    most: int = 60

    def read(self, value: object) -> object:
        """The value, or None if it does not fit."""
        return value if isinstance(value, str) and len(value) <= self.most and value.isprintable() else None


Field = Flag | Number | Choice | Word
Spec = Mapping[str, Mapping[str, Field]]
"""What a widget understands: command -> its fields. A field may be left out of a message."""


@dataclass(frozen=True, slots=True)
class Command:
    """One thing that a person did in one view."""

    do: str
    view: str
    no: int
    fields: Mapping[str, object] = field(default_factory=dict)

    def get(self, name: str, default: object = None) -> object:
        """A field, or `default` if the message had none."""
        return self.fields.get(name, default)


def read_command(message: object, spec: Spec) -> Command:
    """Read one message of a widget that understands `spec`.

    Raises
    ------
    CommandError
        If the message is anything else than a well-formed command of that widget.
    """
    if not isinstance(message, dict):
        raise CommandError("a view sent something that is not a command")
    do, view, no = message.get("do"), message.get("view"), message.get("no")
    if not isinstance(do, str) or do not in spec:
        shown = do[:40] if isinstance(do, str) else type(do).__name__
        raise CommandError(f"this view has no command {shown!r}", try_this=did_you_mean(shown, spec))
    if not isinstance(view, str) or not 0 < len(view) <= 40 or not view.isalnum():
        raise CommandError(f"the command {do} does not say which view sent it")
    if isinstance(no, bool) or not isinstance(no, int) or not 0 < no <= _MOST_NO:
        raise CommandError(f"the command {do} has no number")
    fields: dict[str, object] = {}
    for name, value in message.items():
        if name in ("do", "view", "no"):
            continue
        known = spec[do].get(name) if isinstance(name, str) else None
        if known is None:
            raise CommandError(f"the command {do} has no field {str(name)[:40]!r}")
        read = known.read(value)
        if read is None:
            raise CommandError(f"the field {name} of the command {do} does not fit")
        fields[name] = read
    return Command(do, view, no, fields)


class Once:
    """Remembers the last number of each view, so that a repeated message does nothing."""

    def __init__(self) -> None:
        self._last: OrderedDict[str, int] = OrderedDict()

    def is_new(self, command: Command) -> bool:
        """Whether this command was not applied yet; from now on it was."""
        if command.no <= self._last.get(command.view, 0):
            return False
        self._last[command.view] = command.no
        self._last.move_to_end(command.view)
        while len(self._last) > _MOST_VIEWS:
            self._last.popitem(last=False)
        return True
