"""The standard function blocks of IEC 61131-3: their pins. What they do is in `_meaning.py`, in plain Python."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["BLOCKS", "BlockType"]


@dataclass(frozen=True, slots=True)
class BlockType:
    """Pins of one standard block, in the order they are drawn.

    Parameters
    ----------
    name
        For example ``TON``.
    inputs
        BOOL inputs; the first takes the power flow.
    outputs
        BOOL outputs; the first gives the power flow.
    preset
        The PT (TIME) or PV (INT) input, or nothing.
    value
        The ET (TIME) or CV (INT) output, or nothing.
    cells
        Hidden memory beside the output bits, by name.
    does
        One line for the docs.
    """

    name: str
    inputs: tuple[str, ...]
    outputs: tuple[str, ...]
    preset: str = ""
    value: str = ""
    cells: tuple[str, ...] = ()
    does: str = ""

    @property
    def pins(self) -> tuple[str, ...]:
        """Every pin, inputs first."""
        rest = (self.preset, *self.outputs, self.value)
        return (*self.inputs, *(p for p in rest if p))

    @property
    def is_timer(self) -> bool:
        """True for TON, TOF and TP."""
        return self.preset == "PT"

    @property
    def is_counter(self) -> bool:
        """True for CTU, CTD and CTUD."""
        return self.preset == "PV"


_TIMER = ("mode", "since", "et")

BLOCKS: dict[str, BlockType] = {
    b.name: b
    for b in (
        BlockType("TON", ("IN",), ("Q",), "PT", "ET", _TIMER, "on-delay: Q comes PT after IN, and goes with IN"),
        BlockType("TOF", ("IN",), ("Q",), "PT", "ET", _TIMER, "off-delay: Q comes with IN, and goes PT after IN"),
        BlockType("TP", ("IN",), ("Q",), "PT", "ET", _TIMER, "pulse: a rise of IN gives one Q of length PT"),
        BlockType("CTU", ("CU", "R"), ("Q",), "PV", "CV", ("cv", "cu"), "up-counter: Q when CV has reached PV"),
        BlockType("CTD", ("CD", "LD"), ("Q",), "PV", "CV", ("cv", "cd"), "down-counter: Q when CV has reached 0"),
        BlockType(
            "CTUD",
            ("CU", "CD", "R", "LD"),
            ("QU", "QD"),
            "PV",
            "CV",
            ("cv", "cu", "cd"),
            "up-down-counter: QU when CV has reached PV, QD when it has reached 0",
        ),
        BlockType("SR", ("S1", "R"), ("Q1",), does="memory, set wins"),
        BlockType("RS", ("S", "R1"), ("Q1",), does="memory, reset wins"),
        BlockType("R_TRIG", ("CLK",), ("Q",), cells=("m",), does="Q for one scan when CLK rises"),
        BlockType("F_TRIG", ("CLK",), ("Q",), cells=("m",), does="Q for one scan when CLK falls"),
    )
}

# Limits of INT in IEC 61131-3; PVmin and PVmax of the counters.
INT_MIN, INT_MAX = -32_768, 32_767
