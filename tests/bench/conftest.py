"""A small bench made by hand: no board file, so that a slip there cannot hide a slip here.

G1 -> F1 -> controller A1 and inputs; S1 (stop, NC) -> I1, S2 (start, NO) -> I2, K1's auxiliary -> I3;
Q1 -> coil K1; F4 feeds the outputs. Wires have no resistance of their own, contacts have 30 milliohm.
"""

from __future__ import annotations

import pytest

from labkit.bench.electric import Network
from labkit.bench.engine import Engine
from labkit.board import (
    Actor,
    Coil,
    ContactRule,
    ControllerFeed,
    Electrical,
    Fuse,
    InputChannel,
    InputLimits,
    Lamp,
    Motor,
    OutputChannel,
    Wiring,
)
from labkit.circuit import Circuit, Resistor, Source, Switch
from labkit.controller import Controller, Tag, TagTable, family
from labkit.logic import read_st

INPUT_OHM = 5_000.0


def small_electrical(*, release_us: int = 15_000, i2t: float = 1.0, short_ohm: float | None = None) -> Electrical:
    on = frozenset({"on"})
    elements = [
        Source("G1", "G1:P", "PE", 24.0, 0.05, 2.5),
        Switch("G1.sw", "G1:P", "P", 0.01),
        Switch("F1", "P", "A1:24V", 0.03),
        Resistor("A1.load", "A1:24V", "PE", 240.0),
        Switch("S1", "A1:24V", "A1:I1", 0.03),
        Switch("S2", "A1:24V", "A1:I2", 0.03),
        Switch("K1.aux", "A1:24V", "A1:I3", 0.03),
        *(Resistor(f"A1.I{n}", f"A1:I{n}", "PE", INPUT_OHM) for n in (1, 2, 3)),
        Switch("F4", "P", "A1:QA+", 0.03),
        Switch("A1.Q1", "A1:QA+", "A1:Q1", 0.1),
        Resistor("K1.coil", "A1:Q1", "PE", 192.0),
        Resistor("P1.lamp", "A1:QA+", "PE", 1200.0),
    ]
    if short_ohm is not None:
        elements.append(Resistor("short", "A1:Q1", "PE", short_ohm))
    actors = [
        Actor("G1", ("off", "on"), "off", "supply"),
        Actor("F1", ("off", "on"), "off", "breaker"),
        Actor("F4", ("off", "on"), "off", "breaker"),
        Actor("S1", ("released", "pressed"), "released", "push_button"),
        Actor("S2", ("released", "pressed"), "released", "push_button"),
        Actor("K1", ("open", "closed"), "open", "contactor"),
        Actor("A1.Q1", ("off", "on"), "off", "output"),
    ]
    contacts = (
        ContactRule("G1.sw", "G1", on),
        ContactRule("F1", "F1", on),
        ContactRule("F4", "F4", on),
        ContactRule("S1", "S1", frozenset({"released"})),
        ContactRule("S2", "S2", frozenset({"pressed"})),
        ContactRule("K1.aux", "K1", frozenset({"closed"})),
        ContactRule("A1.Q1", "A1.Q1", on),
    )
    # IEC 61131-2 type 3: off to 5 V, on from 11 V and 2 mA (tests/truth/input_thresholds.csv)
    limits = InputLimits(5.0, 11.0, 0.0015, 0.002)
    inputs = tuple(
        InputChannel(f"I{n}", "A1", f"A1:I{n}", "PE", f"A1.I{n}", 3, 9.0, 7.0, 0.0, False, limits) for n in (1, 2, 3)
    )
    return Electrical(
        board=None,  # type: ignore[arg-type]
        wiring=Wiring(),
        circuit=Circuit(tuple(elements), "PE"),
        actors={a.id: a for a in actors},
        contacts=contacts,
        inputs=inputs,
        outputs=(OutputChannel("Q1", "A1", "A", "A1.Q1", "A1:Q1", "A1:QA+", "PE", "A1.Q1", 0.5, 1.2),),
        coils=(Coil("K1", "K1.coil", "A1:Q1", "PE", 192.0, 0.82 * 24, 0.4 * 24, 25_000, release_us, "bidirectional"),),
        lamps=(Lamp("P1", "P1.lamp", "A1:QA+", "PE", 1200.0, 12.0, "GN"),),
        fuses=(Fuse("F4", "F4", 1.0, i2t, "off", "on"),),
        supplies=(ControllerFeed("A1", "A1:24V", "PE"),),
        sensors=(),
        motors=(Motor("M1", "K1", ""),),
    )


TAGS = TagTable(
    [Tag("S1", "input", "I1"), Tag("S2", "input", "I2"), Tag("K1_A", "input", "I3"), Tag("K1", "output", "Q1")]
)


def small_engine(program: str | None = None, electrical: Electrical | None = None, **set_up: int) -> Engine:
    fam = family("alder")
    network = Network(electrical or small_electrical(), fam.supply.restore_v, fam.supply.brown_out_v)
    engine = Engine(network, Controller(fam, TAGS, **set_up))
    if program is not None:
        engine.load(read_st(program))
    return engine


def up(engine: Engine) -> Engine:
    """Breakers in, supply on, controller started: 1 s boot, so the first scan begins at exactly 1 s."""
    engine.act(lambda: engine.move_all(("F1", "F4", "G1"), "on"), "power")
    engine.run_until(1_000_000)
    return engine


class Small:
    """What the tests make their small benches with."""

    electrical = staticmethod(small_electrical)
    engine = staticmethod(small_engine)
    up = staticmethod(up)
    tags = TAGS


@pytest.fixture
def small() -> type[Small]:
    return Small


@pytest.fixture
def engine() -> Engine:
    """Up, with a seal through the output bit."""
    return up(small_engine("K1 := S1 AND (S2 OR K1);"))
