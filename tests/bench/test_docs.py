"""The page about time says what the code does."""

from __future__ import annotations

import re
from pathlib import Path

from labkit.base import ms
from labkit.bench import Bench, Rank
from labkit.bench.experiments import EVENTS, Setup, hold_table, press_sweep

PAGE = (Path(__file__).parents[2] / "docs/explanation/time-on-the-bench.md").read_text(encoding="utf-8")


def _table(after: str) -> list[list[str]]:
    lines = PAGE[PAGE.index(after) :].splitlines()
    begin = next(i for i, line in enumerate(lines) if line.startswith("|---"))
    rows = []
    for line in lines[begin + 1 :]:
        if not line.startswith("|"):
            break
        rows.append([cell.strip() for cell in line.strip("|").split("|")])
    return rows


def test_the_ranks() -> None:
    assert [int(row[0]) for row in _table("## One instant")] == [rank.value for rank in Rank]


def test_the_phases_of_one_scan() -> None:
    bench = Bench("orchard")
    bench.power_up()
    bench.load("K1 := S2;")
    plan = bench.engine.controller.plan(0)
    told = [(row[0], *(int(n.replace(" ", "")) for n in row[1:3])) for row in _table("## One scan")]
    assert told == [tuple(phase) for phase in plan]


def test_the_table_of_holds_is_what_the_bench_makes() -> None:
    rows = _table("<!-- table of holds -->")
    assert [row[0] for row in rows] == list(EVENTS)
    assert rows == hold_table(Setup(), phases=[ms(1)]).rows()[1:]


def test_the_shortest_presses() -> None:
    for scan, press, race in _table("## The shortest press"):
        sweep = press_sweep("A", Setup(scan=ms(int(scan.split()[0]))), lengths=[ms(5), ms(20), ms(25)])
        assert sweep.shortest_us == 1000 * int(press.split()[0])
        assert sweep.race == race.startswith("yes")
    assert re.search(r"the rule says 29 ms, the bench\s+needs 58", PAGE)
