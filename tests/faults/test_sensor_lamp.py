"""A sensor's own lamp: it goes with the sensor's output, whatever the wire, the input and the list want."""

from __future__ import annotations

import pytest

from labkit.base import ms
from labkit.bench import Bench
from labkit.faults import fault, put_in
from labkit.plots.bench import as_it_stands


def press_board(broken: str = "") -> Bench:
    bench = Bench("orchard-press")
    if broken:
        put_in(bench, fault(bench.board, broken))
    bench.power_up()
    bench.wait(ms(300))
    return bench


# part, what it is -> its lamp with nothing before it, and with something before it
LAMPS = {
    ("B1", ""): (True, False),  # light-on: lit while the beam is whole
    ("B1", "B1-inverted"): (False, True),  # set to dark-on
    ("B1", "B1-blind"): (False, False),  # never sees its own light
    ("B1", "B1-npn"): (True, False),  # of the other kind it works perfectly, and is never heard of
    ("B1", "swap-B1:BN-B1:BU"): (False, False),  # no supply
    ("B1", "B1-leaks"): (True, False),  # the leak is in the transistor, not in what drives it
    ("B2", ""): (False, True),
    ("B2", "B2-inverted"): (True, False),
    ("B2", "B2-blind"): (False, False),
    ("B2", "B2-npn"): (False, True),
    ("B2", "wire-103-open"): (False, True),  # a broken signal wire is behind the lamp
    ("B2", "wire-143-open"): (False, False),  # a broken supply wire is before it
    ("B3", "B3-inverted"): (True, False),
}


def put(bench: Bench, part: str) -> None:
    if part == "B1":
        bench.beam(part)
    else:
        bench.metal(part, 1)
    bench.wait(ms(300))


@pytest.mark.parametrize(("part", "broken"), LAMPS)
def test_a_sensor_s_own_lamp(part: str, broken: str) -> None:
    bench = press_board(broken)
    away = bench.lit(part)
    assert as_it_stands(bench)["states"][part] == ("on" if away else "off"), "the picture shows the lamp"
    put(bench, part)
    assert (away, bench.lit(part)) == LAMPS[part, broken]
    bench.power(False)
    bench.wait(ms(1000))
    assert not bench.lit(part), "no supply, no lamp"


@pytest.mark.parametrize("broken", ["", "B1-inverted", "B1-blind"])
def test_the_lamp_of_a_plus_switching_sensor_goes_with_its_lead(broken: str) -> None:
    bench = press_board(broken)
    for _ in range(2):
        assert bench.lit("B1") == (float(bench.meter.peek("volts", "B1:BK", "B1:BU")) > 12)
        put(bench, "B1")
