"""Every public name, handed something of the wrong kind, answers in a sentence with a cure, never with a traceback."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

import labkit as lk
from labkit.base import LabkitError
from labkit.board import dumps_board, dumps_wiring, electrify, io_list, loads_board, loads_wiring, save_board, wire_list
from labkit.controller import Tag, TagTable, differences, load_family, loads_family, loads_tags, parse_address
from labkit.plots import (
    bench_svg,
    board_svg,
    control_circuit_svg,
    input_bands,
    ladder_svg,
    timing_svg,
)

BOARD = lk.load_board("orchard")
JUNK = (None, 5, -1, 2.5, [], ["nonsense"], [None], {}, {"a": 1}, object(), True, b"x")
WORDS = ("nonsense", "", "empty.toml")
PROGRAM = "K1 := S1 AND (S2 OR K1_A);"

# the call, what it is handed, and what of that it may rightly take
CALLS: dict[str, tuple[Any, tuple[Any, ...]]] = {
    "ms": (lk.ms, (5, -1, 2.5, True)),
    "Bench": (lk.Bench, ()),
    "Bench wiring": (lambda x: lk.Bench(BOARD, x), (None,)),
    "Bench family": (lambda x: lk.Bench(BOARD, family=x), ()),
    "Bench scan": (lambda x: lk.Bench(BOARD, scan=x), (None,)),
    "Bench tags": (lambda x: lk.Bench(BOARD, tags=x), (None, [], {}, "", b"")),
    "PowerGate": (lk.PowerGate, ()),
    "check_wiring": (lk.check_wiring, ()),
    "check_wiring wiring": (lambda x: lk.check_wiring(BOARD, x), (None,)),
    "family": (lk.family, ()),
    "ladder": (lk.ladder, ()),
    "st": (lk.st, ()),
    "load_board": (lk.load_board, ()),
    "load_wiring": (lk.load_wiring, ()),
    "lesson": (lk.lesson, ()),
    "prove": (lambda x: lk.prove(x, "never K1 and K2"), ()),
    "prove asked": (lambda x: lk.prove(PROGRAM, x), ()),
    "compare family": (lambda x: lk.compare(PROGRAM, x), ()),
    "draw_ladder": (lk.draw_ladder, ()),
    "timing": (lk.timing, ()),
    "timing_svg": (timing_svg, ()),
    "board_svg": (board_svg, ()),
    "board_svg wiring": (lambda x: board_svg(BOARD, wiring=x), (None,)),
    "board_svg lit": (lambda x: board_svg(BOARD, lit=x), (None, [], {})),
    "board_svg states": (lambda x: board_svg(BOARD, states=x), (None, {})),
    "board_svg follow": (lambda x: board_svg(BOARD, follow=x), (None, [], {}, 5)),
    "bench_svg": (bench_svg, ()),
    "control_circuit_svg": (control_circuit_svg, ()),
    "control_circuit_svg coil": (lambda x: control_circuit_svg(BOARD, x), ()),
    "control_circuit_svg inputs": (lambda x: control_circuit_svg(BOARD, inputs=x), (None, [], {})),
    "ladder_svg": (ladder_svg, ()),
    "input_bands": (input_bands, ()),
    "electrify": (electrify, ()),
    "io_list": (io_list, ()),
    "wire_list": (wire_list, ()),
    "dumps_board": (dumps_board, ()),
    "dumps_wiring": (dumps_wiring, ()),
    "loads_board": (loads_board, ()),
    "loads_wiring": (loads_wiring, ("",)),
    "board.part": (BOARD.part, ()),
    "save_board": (lambda x: save_board(BOARD, x), ("nonsense", "empty.toml")),
    "parse_address": (lambda x: parse_address(x, lk.family("alder")), ()),
    "parse_address family": (lambda x: parse_address("%I0.1", x), ()),
    "load_family": (load_family, ()),
    "loads_family": (loads_family, ()),
    "loads_tags": (loads_tags, ()),
    "differences": (lambda x: differences(lk.family("alder"), x), ()),
    "TagTable": (TagTable, (None, [], {})),
    "Tag": (lambda x: Tag(x, "input"), ("nonsense",)),
    "Tag kind": (lambda x: Tag("S1", x), ()),
}


@pytest.fixture(autouse=True)
def _in_a_folder_of_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "empty.toml").write_text("")
    monkeypatch.chdir(tmp_path)


@pytest.mark.parametrize("call", CALLS)
def test_the_wrong_kind_of_thing_is_told_in_a_sentence(call: str) -> None:
    what, takes = CALLS[call]
    for given in (*JUNK, *WORDS):
        if any(given is ok or (type(given) is type(ok) and given == ok) for ok in takes):
            continue
        with pytest.raises(LabkitError) as told:
            what(given)
        assert told.value.what, given
        assert told.value.where or told.value.try_this or "\n" in told.value.what, (given, str(told.value))


def test_a_board_by_name_where_a_board_is_due_is_told_how() -> None:
    with pytest.raises(LabkitError, match="a board is due here; this is the text 'orchard'") as told:
        io_list("orchard")  # type: ignore[arg-type]
    assert told.value.try_this == "load it first: load_board('orchard')"
