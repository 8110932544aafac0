"""A program text of either language."""

from __future__ import annotations

from labkit.logic._read_ladder import read_ladder
from labkit.logic._read_st import read_st
from labkit.logic._source import open_source
from labkit.logic.nodes import Program

__all__ = ["read_program"]


def read_program(text: str, *, name: str = "program") -> Program:
    """Read ladder text or Structured Text, whichever it is: a rung has a line that begins with a bar or a wire.

    Raises
    ------
    SlipError
        At the first thing that cannot be read.
    """
    lines = [line.lstrip() for line in open_source(text).code]
    drawn = any(line.startswith(("|", "--", "-|", "+-")) for line in lines)
    return read_ladder(text, name=name) if drawn else read_st(text, name=name)
