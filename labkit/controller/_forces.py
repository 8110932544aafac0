"""The force list: inputs held in the image, outputs held at their terminals."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from labkit.base import nearest
from labkit.controller.errors import ControllerError
from labkit.controller.tags import Tag, TagTable

__all__ = ["Forces"]


class Forces:
    """Forced tags and their values, and the same again as the scan wants them.

    Attributes
    ----------
    inputs, outputs
        Pairs of tag name and value, 0 or 1.
    """

    __slots__ = ("_tags", "_values", "inputs", "outputs")

    def __init__(self, tags: TagTable) -> None:
        self._tags = tags
        self._values: dict[str, int] = {}
        self.inputs: tuple[tuple[str, int], ...] = ()
        self.outputs: tuple[tuple[str, int], ...] = ()

    def __bool__(self) -> bool:
        return bool(self._values)

    def listed(self) -> Mapping[str, bool]:
        """The list as people see it."""
        return MappingProxyType({name: value == 1 for name, value in self._values.items()})

    def put(self, name: str, value: bool) -> None:
        """Force one tag; see :meth:`Controller.force`."""
        tag = self._tags.tag(name)
        if tag.kind == "memory" or tag.point is None:
            raise ControllerError(
                f"{name} cannot be forced: only inputs and outputs with a point can",
                try_this="set the bit instead" if tag.kind == "memory" else "give the tag a point",
                where=name,
                code="controller-force",
            )
        self._values[name] = 1 if value else 0
        self._sort()

    def remove(self, name: str | None) -> None:
        """Take one force away, or all; see :meth:`Controller.unforce`."""
        if name is None:
            self._values.clear()
        elif self._values.pop(name, None) is None:
            raise ControllerError(
                f"{name} is not forced",
                where=name,
                try_this=nearest(name, self._values) or "nothing is forced now",
                code="controller-force",
            )
        self._sort()

    def _sort(self) -> None:
        placed: list[tuple[Tag, int]] = [(self._tags.tag(name), value) for name, value in self._values.items()]
        self.inputs = tuple((tag.name, value) for tag, value in placed if tag.kind == "input")
        self.outputs = tuple((tag.name, value) for tag, value in placed if tag.kind == "output")
