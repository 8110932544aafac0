"""Board drawings, read as shapes. Places are compared with the board's own file."""

from __future__ import annotations

from dataclasses import replace

import pytest

from labkit.board import Wire, Wiring, load_board
from labkit.plots import Arc, DrawingError, Polyline, Rect, board_sheet, board_svg, draw_board
from labkit.plots._board_parts import FACES

SCALE = 2.0  # sheet units per millimetre


@pytest.fixture(scope="module")
def board():
    return load_board("orchard")


def part(sheet, name: str):
    return sheet.groups()[f"part:{name}"]


def roles(group) -> list[str]:
    return [s.role for s in group.shapes]


def panel(sheet, name: str) -> Rect:
    return part(sheet, name).shapes[0]


def test_every_part_stands_at_its_place_and_to_scale(board):
    sheet = board_sheet(board)
    plate = next(s for s in sheet.walk() if s.role == "plate")
    assert (plate.width, plate.height) == (board.width_mm * SCALE, board.height_mm * SCALE)
    for p in board.parts.values():
        box = panel(sheet, p.designation)
        assert box.x - plate.x == pytest.approx(p.x_mm * SCALE)
        assert box.y - plate.y == pytest.approx(p.y_mm * SCALE)
        assert (box.width, box.height) == (p.entry.width_mm * SCALE, p.entry.height_mm * SCALE)


def test_every_terminal_is_there_with_its_number(board):
    sheet = board_sheet(board)
    for p in board.parts.values():
        groups = [part(sheet, p.designation)] + [part(sheet, b.id) for b in p.blocks]
        words = [s.text for g in groups for s in g.shapes if hasattr(s, "text")]
        for t in board.terminals.values():
            if t.part == p.designation:
                assert t.name in words, t.id


def test_every_kind_of_part_in_the_catalogue_has_a_face():
    from labkit.board.catalogue import KINDS

    assert set(FACES) == set(KINDS)


@pytest.mark.parametrize("follow", [None, "all", (), ("201", 211)])
def test_nothing_overlaps_and_nothing_is_cut_off(board, follow):
    assert board_sheet(board, follow=follow).check() == []


def test_every_wire_shows_its_number_at_both_ends(board):
    numbers = [t.text for t in board_sheet(board).texts("wire-no")]
    assert sorted(numbers) == sorted([w.no for w in board.wiring] * 2)


def ways(sheet, no: str):
    return [s for s in sheet.groups()[f"wire:{no}"].shapes if isinstance(s, Polyline) and s.role == "wire"]


def test_a_followed_wire_runs_from_terminal_to_terminal_in_right_angles(board):
    sheet = board_sheet(board, follow="all")
    plate = next(s for s in sheet.walk() if s.role == "plate")
    for wire in board.wiring:
        (way,) = ways(sheet, wire.no)
        for (x1, y1), (x2, y2) in zip(way.points, way.points[1:], strict=False):
            assert x1 == x2 or y1 == y2, wire.no
        for end, (x, y) in ((wire.a, way.points[0]), (wire.b, way.points[-1])):
            terminal = board.terminals[end]
            assert y - plate.y == pytest.approx(terminal.y_mm * SCALE)
            box = panel(sheet, terminal.block or terminal.part)
            assert box.x < x < box.x + box.width


def test_followed_wires_cross_no_part(board):
    sheet = board_sheet(board, follow="all")
    names = [n for p in board.parts.values() for n in (p.designation, *(b.id for b in p.blocks))]
    boxes = [panel(sheet, n) for n in names]
    for wire in board.wiring:
        (way,) = ways(sheet, wire.no)
        for (x1, y1), (x2, y2) in zip(way.points, way.points[1:], strict=False):
            for b in boxes:
                inside_x = min(x1, x2) < b.x + b.width - 1 and max(x1, x2) > b.x + 1
                inside_y = min(y1, y2) < b.y + b.height - 1 and max(y1, y2) > b.y + 1
                assert not (inside_x and inside_y), (wire.no, b)


def test_no_two_conductors_lie_on_one_another(board):
    sheet = board_sheet(board, follow="all")
    pieces = []
    for wire in board.wiring:
        (way,) = ways(sheet, wire.no)
        pieces += [(wire.no, *a, *b) for a, b in zip(way.points, way.points[1:], strict=False)]
    across = [p for p in pieces if p[2] == p[4]]
    for i, (no, x1, y1, x2, _) in enumerate(across):
        for other, u1, v1, u2, _ in across[i + 1 :]:
            if no != other and abs(y1 - v1) < 0.3:
                assert min(max(x1, x2), max(u1, u2)) <= max(min(x1, x2), min(u1, u2)), (no, other)


def test_a_few_wires_are_followed_by_themselves_and_many_are_not(board):
    few = Wiring((Wire("1", "G1:24V", "X1:24V"), Wire("2", "F1:2", "A1:24V")))
    assert len(ways(board_sheet(board, wiring=few), "1")) == 1
    assert len(ways(board_sheet(board), "1")) == 2  # both ends


def test_two_colours_of_a_conductor_are_both_drawn(board):
    shapes = board_sheet(board).groups()["wire:3"].shapes  # green-yellow
    assert [s.role for s in shapes] == ["wire", "wire-stripe"] * 2


def test_what_is_on_is_told_by_shape(board):
    calm = board_sheet(board)
    busy = board_sheet(
        board,
        states={"S2": "pressed", "K1": "closed", "S0": "pressed", "F3": "tripped", "A1": "run", "F1": "on"},
        lit=("P1", "P9", "M1"),
        leds=("I2", "Q1"),
        live=("K1:A1",),
    )
    for name in ("S2", "K1", "S0", "F3", "A1", "F1", "P1", "P9", "M1", "K1.aux"):
        assert [repr(s)[:9] + s.role for s in part(calm, name).shapes] != [
            repr(s)[:9] + s.role for s in part(busy, name).shapes
        ], f"{name} looks the same without colour"
    assert roles(part(busy, "P1")).count("ray") == 12
    assert roles(part(busy, "A1")).count("led-on") == 2
    assert roles(part(busy, "K1")).count("terminal-live") == 1
    assert "wire-live" in [s.role for s in busy.groups()["wire:211"].shapes]


def test_contacts_close_as_their_part_says(board):
    def heavy(sheet, name):
        return roles(part(sheet, name)).count("detail-bold")

    # K1 has three poles; its block one NO (53-54) and one NC (61-62) contact (EN 50005 numbering)
    assert heavy(board_sheet(board), "K1") == 0
    assert heavy(board_sheet(board, states={"K1": "closed"}), "K1") == 3
    assert heavy(board_sheet(board), "K1.aux") == heavy(board_sheet(board, states={"K1": "closed"}), "K1.aux") == 1


def test_a_block_that_is_pulled_off_leaves_its_outline(board):
    gone = part(board_sheet(board, removed=("K1.aux",)), "K1.aux")
    assert roles(gone) == ["part-gone", "note"]
    assert gone.about.endswith("pulled off")


def test_a_selector_points_where_it_is_turned(board):
    def tip(state):
        (knob,) = [s for s in part(board_sheet(board, states={"S4": state}), "S4").shapes if isinstance(s, Polyline)]
        (cap,) = [s for s in part(board_sheet(board), "S4").shapes if isinstance(s, Arc) and s.role == "cap"]
        return knob.points[2][0] - cap.cx

    assert tip("left") < -5 < 5 < tip("right")
    assert tip("centre") == pytest.approx(0)


def test_the_svg_is_the_same_each_time_and_every_part_says_what_it_is(board):
    text = board_svg(board, states={"S2": "pressed"})
    assert text == board_svg(board, states={"S2": "pressed"})
    assert "S2: push button, one NO contact, Start, pressed" in text
    assert "wire 201 from A1:Q1 to F3:95" in text


def test_axes_in_axes_out(board):
    from matplotlib.figure import Figure

    ax = Figure(figsize=(10, 7)).add_subplot()
    assert draw_board(board, ax=ax) is ax
    assert {"S2", "K1", "A1"} <= {t.get_text() for t in ax.texts}


WRONG = {
    "part": ({"states": {"S9": "pressed"}}, "no part in states called 'S9'", "S6"),
    "position": ({"states": {"S2": "presed"}}, "S2 cannot be 'presed'", "Did you mean pressed?"),
    "lamp": ({"lit": ["P11"]}, "no part in lit called 'P11'", "Did you mean P1?"),
    "point": ({"leds": ["I13"]}, "no point in leds", "Did you mean"),
    "terminal": ({"live": ["K1:A3"]}, "no terminal in live", "Did you mean K1:A"),
    "block": ({"removed": ["K1.aus"]}, "no block in removed", "Did you mean K1.aux?"),
    "wire": ({"follow": ["999"]}, "no wire in follow", ""),
    "wiring": ({"wiring": Wiring((Wire("1", "K1:A1", "K9:A1"),))}, "wire 1 goes to K9:A1", "Did you mean K1:A1?"),
}


@pytest.mark.parametrize(("options", "what", "cure"), WRONG.values(), ids=WRONG)
def test_a_slip_is_named_with_its_cure(board, options, what, cure):
    with pytest.raises(DrawingError) as caught:
        board_sheet(board, **options)
    assert what in caught.value.what
    assert cure in caught.value.try_this


def clamps(sheet, bar) -> int:
    """Terminals drawn inside the box of one bar."""
    left, top, right, bottom = bar.bounds()
    rings = [s for s in part(sheet, "X1").shapes if isinstance(s, Arc) and s.role == "terminal"]
    inside = [r for r in rings if left < r.cx < right and top < r.cy < bottom]
    assert all(left <= r.cx - r.r and r.cx + r.r <= right for r in inside)
    assert all(top <= r.cy - r.r and r.cy + r.r <= bottom for r in inside)
    return len(inside)


@pytest.mark.parametrize("counts", [None, (1, 2, 40, 60, 3)])
def test_a_strip_has_as_many_clamps_as_its_bars_and_says_how_many_are_taken(board, counts):
    strip = board.part("X1")
    bars = strip.entry.bars
    if counts:
        bars = tuple(bar.model_copy(update={"clamps": n}) for bar, n in zip(bars, counts, strict=True))
        board = board.with_part(replace(strip, entry=strip.entry.model_copy(update={"bars": bars})))
    sheet = board_sheet(board)
    boxes = [s for s in part(sheet, "X1").shapes if getattr(s, "role", "") == "bar"]
    assert [clamps(sheet, box) for box in boxes] == [bar.clamps for bar in bars]
    words = {s.text for s in part(sheet, "X1").shapes if hasattr(s, "text")}
    for bar in bars:
        taken = len(board.wiring.at(f"X1:{bar.name}"))
        assert f"{taken} of {bar.clamps}" + (": too many" if taken > bar.clamps else "") in words


def test_more_wires_than_a_terminal_takes_are_told_on_the_drawing(board):
    assert not [t for t in board_sheet(board).texts() if "Too many" in t.text]
    more = [Wire(str(900 + n), "X1:24S", "X1:PE") for n in range(6)]
    over = board.wiring.with_wire(*more, Wire("910", "S1:11", "S2:13"), Wire("911", "S1:11", "S3:13"))
    sheet = board_sheet(board, wiring=over)
    said = " ".join(t.text for t in sheet.texts("label"))
    told = "Too many wires on a terminal: X1:24S has 9 and takes 8; X1:PE has 10 and takes 8; S1:11 has 3 and takes 2."
    assert told in said
    assert told in sheet.desc
    assert "9 of 8: too many" in said
    assert sheet.check() == []
