"""Elements of a ladder on their way from the drawing into the tree."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass, field

from labkit.logic.blocks import BlockType
from labkit.logic.nodes import Block, Coil, Constant, Contact, Power, Preset, Span

__all__ = ["BoxPins", "Part", "part_name"]


@dataclass(slots=True)
class BoxPins:
    """What the reader knows of a block before its side networks are read."""

    kind: BlockType
    instance: str
    inputs: list[tuple[str, Power]] = field(default_factory=list)
    presets: list[tuple[str, Preset]] = field(default_factory=list)
    outputs: list[tuple[str, str]] = field(default_factory=list)
    wired: list[tuple[str, Hashable, Span]] = field(default_factory=list)


@dataclass(slots=True)
class Part:
    """One element on its way into the tree.

    `start` and `end` are the nets it lies between; `row`, `col` and `last` where its wire runs; `top` and `bottom` the
    rows it covers; `box` what is known of a block before its pin networks are read.
    """

    node: Power
    start: Hashable
    end: Hashable
    row: int
    col: int
    last: int
    span: Span
    is_coil: bool = False
    box: BoxPins | None = None
    top: int = 0
    bottom: int = 0


def part_name(node: Power) -> str:
    """What an element is called, for a message."""
    if isinstance(node, Contact | Coil):
        return node.name
    if isinstance(node, Block):
        return node.instance
    return "TRUE" if isinstance(node, Constant) and node.value else "FALSE"
