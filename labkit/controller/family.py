"""What a controller family is: one record, read from a data file, each field a switch that acts."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from labkit.base import need

__all__ = [
    "Addresses",
    "Family",
    "ForceRules",
    "Inputs",
    "Outputs",
    "Points",
    "ProgramRules",
    "Retention",
    "RetentionRule",
    "Scan",
    "Start",
    "Supply",
    "TimerRules",
]

Keep = Literal["keep", "clear"]
StartKind = Literal["power-up", "stop-to-run"]
# An hour: no lesson needs a longer phase, and the sum of a few stays far from any limit.
Micros = Annotated[int, Field(ge=0, le=3_600_000_000)]


class _Table(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)


class Addresses(_Table):
    """How the family writes a place: ``%IX`` and then either one number or group and bit."""

    group_bits: Literal[0, 8, 16] = Field(
        title="bits in a group",
        description="0 is flat numbering; with groups of 8, bit 8 of a byte is bit 0 of the next",
    )
    base: Literal[8, 10, 16] = Field(
        title="number base", description="in octal there is no 8 and no 9: after 7 comes 10"
    )
    first: Literal[0, 1] = Field(title="first number", description="everything is one off after a move")


class Points(_Table):
    """How many single-bit places of each kind there are."""

    inputs: int = Field(ge=1, le=4096, title="inputs", description="a tag beyond the last has no place")
    outputs: int = Field(ge=1, le=4096, title="outputs", description="a tag beyond the last has no place")
    memory: int = Field(ge=0, le=65536, title="memory bits", description="a big tag table may not fit")


class Scan(_Table):
    """The phases of one scan and their durations."""

    kind: Literal["fixed", "free"] = Field(
        title="scan", description="free: the next scan starts at once, so its length follows the program's"
    )
    period_us: Micros = Field(
        title="scan period", description="decides which press is seen, and whether a feedback seal is a race"
    )
    read_us: Micros = Field(title="read phase", description="inputs are sampled once, at its start")
    solve_us_per_rung: Micros = Field(
        title="solving, per rung", description="makes the answer later; in a free scan, the scan longer"
    )
    solve_min_us: Micros = Field(title="solving, at least", description="a short program still takes this")
    write_us: Micros = Field(title="write phase", description="outputs change at its end, all together")
    service_us: Micros = Field(title="service phase", description="the controller talks to panels")
    watchdog_us: Micros = Field(
        title="watchdog",
        description="a read, solve and write longer than this stops the controller; 0 is none",
    )

    @model_validator(mode="after")
    def _scan_has_a_length(self) -> Scan:
        if self.kind == "fixed" and self.period_us == 0:
            raise ValueError("period_us must be above 0 when the scan is fixed")
        if self.kind == "free" and self.period_us:
            raise ValueError("period_us must be 0 when the scan is free: its phases make its length")
        if self.read_us + self.solve_min_us + self.write_us == 0:
            raise ValueError("the phases take no time at all: give read_us, solve_min_us or write_us")
        return self


class Inputs(_Table):
    """The input channels."""

    type_no: Literal[1, 3] = Field(
        title="input type",
        description="IEC 61131-2: type 1 is certainly on from 15 V, type 3 from 11 V, both off at 5 V",
    )
    filter_us: Micros = Field(title="input filter", description="a pulse shorter than this is never seen")


class Outputs(_Table):
    """The output channels."""

    delay_us: Micros = Field(title="output delay", description="from the end of the write to the terminal")
    when_not_running: Literal["off", "hold"] = Field(
        title="outputs while stopped", description="hold: the contactor stays in while the program is stopped"
    )


class RetentionRule(_Table):
    """What one kind of start does to each kind of value; ``clear`` applies the initial value."""

    plain: Keep = Field(title="plain bits", description="keep: what ran before the stop runs again")
    retained: Keep = Field(
        title="retained bits", description="clear: even a tag or variable marked to be retained is lost"
    )
    blocks: Keep = Field(title="timers, counters, latches", description="keep: a half-run timer goes on")


class Retention(_Table):
    """Power-up and stop-to-run are two questions with two answers."""

    power_up: RetentionRule
    stop_to_run: RetentionRule


class Start(_Table):
    """The first scan."""

    first_scan: tuple[StartKind, ...] = Field(
        strict=False,
        title="FIRST_SCAN is true after",
        description="no start listed: the family has no such flag",
    )
    edges: Literal["zero", "present", "kept"] = Field(
        title="an edge's value before the first scan",
        description="zero: an input that is on already counts as a rising edge at the first scan",
    )


class TimerRules(_Table):
    """How timers see time. Every timer of a scan sees the same instant: the start of the solve phase."""

    resolution_us: Annotated[int, Field(ge=1, le=10_000_000)] = Field(
        title="timer step", description="a preset is rounded up to whole steps, and the first step may be a short one"
    )
    while_stopped: Literal["freeze", "run on"] = Field(
        title="timers while stopped", description="shows where a timer's value survives the stop"
    )


class Supply(_Table):
    """The controller's own supply: with these volts between its terminals it gives up, and starts again."""

    brown_out_v: float = Field(ge=0, le=60, title="gives up below", description="all outputs drop")
    restore_v: float = Field(
        ge=0, le=60, title="starts again from", description="a supply that stays between the two does not start it"
    )
    boot_us: Micros = Field(title="boot time", description="the panel may be up first")

    @model_validator(mode="after")
    def _hysteresis(self) -> Supply:
        if self.restore_v < self.brown_out_v:
            raise ValueError(f"restore_v ({self.restore_v:g} V) must not be below brown_out_v ({self.brown_out_v:g} V)")
        return self


class ProgramRules(_Table):
    """What the family says to a program when it is loaded."""

    rungs: int = Field(ge=1, le=100_000, title="rungs at most", description="a longer program is refused")
    duplicate_coil: Literal["allow", "warn", "refuse"] = Field(
        title="the same plain coil twice", description="rungs do not OR together: the last one wins"
    )


class ForceRules(_Table):
    """Forced points."""

    survive_power: bool = Field(
        title="forces survive power off", description="works in class, not tomorrow; or the other way round"
    )


class Family(_Table):
    """One controller family: how it addresses, scans, times, retains and starts.

    Examples
    --------
    >>> from labkit.controller import family
    >>> family("alder").scan.period_us
    10000
    """

    name: str = Field(pattern=r"^[a-z][a-z0-9-]{0,30}$")
    summary: str = Field(min_length=1, max_length=200)
    addresses: Addresses
    points: Points
    scan: Scan
    inputs: Inputs
    outputs: Outputs
    retention: Retention
    start: Start
    timers: TimerRules
    supply: Supply
    program: ProgramRules
    forces: ForceRules


def family_given(family: object) -> Family:
    """The family.

    Raises
    ------
    GivenError
        If it is something else, such as a family's name.
    """
    need(family, Family, "a controller family", "look it up by its name: family('alder')")
    assert isinstance(family, Family)
    return family
