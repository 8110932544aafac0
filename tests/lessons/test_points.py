"""Which points of a bench work: what a loose or wandering wire does to them, each device worked once."""

from __future__ import annotations

import pytest

from labkit.bench import Bench
from labkit.lessons._points import PointSeen, work_points


def bad(seen: dict[str, PointSeen]) -> dict[str, str]:
    return {name: point.why for name, point in seen.items() if not point.ok}


def test_every_point_of_the_demo_board_works() -> None:
    seen = work_points(Bench("orchard"))
    assert bad(seen) == {}
    assert len(seen) == 12 + 7  # Q8 is a spare


@pytest.mark.parametrize(
    ("a", "b", "wrong"),
    [
        ("X1:24V", "P1:X1", {"Q2": "P1 works before the output is on", "Q3": "moves P1 as well"}),
        ("A1:Q2", "A1:Q3", {"Q2": "moves P2 as well", "Q3": "moves P1 as well"}),
        ("A1:I2", "A1:I3", {"I2": "moves S3 as well", "I3": "moves S2 as well"}),
    ],
    ids=["a load on all the time", "two outputs touch", "two inputs touch"],
)
def test_a_bridge_spoils_the_points_that_it_joins(a: str, b: str, wrong: dict[str, str]) -> None:
    bench = Bench("orchard")
    bench.join(a, b)
    found = bad(work_points(bench))
    if a != "X1:24V":  # a load that is always on is told with every output
        assert set(found) == set(wrong)
    assert all(says in found[name] for name, says in wrong.items())
