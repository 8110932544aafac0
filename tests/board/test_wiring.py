"""A wiring is a value: every change makes another."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.board import Wire, Wiring, WiringError, dumps_wiring, dumps_wiring_csv, loads_wiring, loads_wiring_csv

TERMINALS = ("G1:24V", "X1:0V", "K1:A1", "K1:A2", "V1:+", "V1:-", "A1:QA+")
wires = st.builds(
    Wire,
    no=st.integers(1, 99).map(str),
    a=st.sampled_from(TERMINALS[:3]),
    b=st.sampled_from(TERMINALS[3:]),
    colour=st.sampled_from(("BU", "GNYE", "WHBU")),
    mm2=st.sampled_from((0.5, 0.75, 1.0, 1.5, 2.5)),
    m=st.floats(0.05, 50.0),
    ferrule=st.booleans(),
    conductor_class=st.sampled_from((1, 2, 5, 6)),
)
wirings = st.lists(wires, max_size=12, unique_by=lambda w: w.no).map(lambda ws: Wiring(tuple(ws)))


@given(wirings)
def test_both_forms_read_back_exactly(wiring: Wiring) -> None:
    assert loads_wiring(dumps_wiring(wiring)) == wiring
    assert loads_wiring_csv(dumps_wiring_csv(wiring)) == wiring


@given(wirings)
def test_lifting_and_landing_again_only_moves_the_wire_to_the_end(wiring: Wiring) -> None:
    for wire in wiring:
        back = wiring.without(wire.no).with_wire(wire)
        assert set(back) == set(wiring)
        assert list(back)[-1] == wire
        assert [w for w in back if w != wire] == [w for w in wiring if w != wire]


@given(wirings)
def test_nets_are_what_a_walk_along_the_wires_finds(wiring: Wiring) -> None:
    """Against a plain flood fill."""
    found = {}
    for start in {t for w in wiring for t in (w.a, w.b)}:
        reached, todo = {start}, [start]
        while todo:
            here = todo.pop()
            for wire in wiring.at(here):
                for end in (wire.a, wire.b):
                    if end not in reached:
                        reached.add(end)
                        todo.append(end)
        found[start] = frozenset(reached)
    assert {t: net for net in wiring.nets() for t in net} == found


def test_slips_in_landing_and_lifting_have_a_cure() -> None:
    wiring = Wiring((Wire("1", "K1:A1", "X1:0V"), Wire("3", "K1:A2", "X1:0V")))
    with pytest.raises(WiringError, match="number 1 is already on the wire K1:A1 - X1:0V") as caught:
        wiring.with_wire(Wire("1", "G1:24V", "K1:A1"))
    assert caught.value.try_this == "2 is free"
    with pytest.raises(WiringError, match="there is no wire 2"):
        wiring.without(2)
    with pytest.raises(WiringError, match="both ends of wire 4 are on K1:A1"):
        wiring.with_wire(Wire("4", "K1:A1", "K1:A1"))
    with pytest.raises(WiringError, match="wire 1 has no end on K1:A2"):
        wiring.moved(1, end="K1:A2", to="K1:A1")
    assert wiring.moved(1, end="X1:0V", to="X1:PE").wire(1).b == "X1:PE"
    assert [w.no for w in wiring.renumber(10)] == ["10", "11"]
    assert len(wiring) == 2, "nothing was changed in place"
