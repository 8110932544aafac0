"""Ladder drawings, read as shapes. The symbols are those of IEC 61131-3 (contacts, coils, transition forms)."""

from __future__ import annotations

import pytest

from labkit.logic import Cell, LadderLayout, Link, Pin, RungLayout, read_st
from labkit.plots import Arc, DrawingError, Line, draw_ladder, ladder_sheet, ladder_svg


def seal_in() -> LadderLayout:
    """S1 and (S2 or K1_A) drive K1: the lesson's rung on its grid."""
    cells = (
        Cell(0, 0, 1, 1, "contact", "", "S1", 0),
        Cell(0, 1, 1, 1, "contact", "", "S2", 1),
        Cell(1, 1, 1, 1, "contact", "", "K1_A", 2),
        Cell(0, 3, 1, 1, "coil", "", "K1", 3),
    )
    links = (Link(0, 1, 1, 1, (0,)), Link(0, 2, 1, 2, (2,)), Link(0, 2, 0, 3, (1, 2)))
    rung = RungLayout(1, "K1 holds itself", "through its own auxiliary", 4, 2, cells, links)
    return LadderLayout("hold", (rung,), read_st("K1 := S1 AND (S2 OR K1_A);"))


def one(kind: str, symbol: str, name: str = "X", **more) -> LadderLayout:
    cell = Cell(0, 0, 3 if kind == "block" else 1, 2 if kind == "block" else 1, kind, symbol, name, 0, **more)
    rung = RungLayout(1, "", "", 3 if kind == "block" else 1, cell.height, (cell,), ())
    return LadderLayout("one", (rung,), read_st("K1 := S1;"))


HELD = {0: (True, True, True), 1: (True, False, False), 2: (True, True, True), 3: (True, True, True)}


def element(sheet, number: int):
    return sheet.groups()[f"element:{number}"].shapes


def roles(shapes) -> list[str]:
    return [x.role for x in shapes]


def test_names_stand_above_their_elements_in_the_middle():
    sheet = ladder_sheet(seal_in())
    shapes = element(sheet, 1)
    (name,) = [x for x in shapes if x.role == "name"]
    bars = [x for x in shapes if x.role == "symbol" and x.x1 == x.x2]
    assert name.text == "S2"
    assert name.x == pytest.approx((bars[0].x1 + bars[1].x1) / 2)
    assert name.y < min(b.y1 for b in bars)


def test_rungs_have_number_title_comment_and_two_rails():
    sheet = ladder_sheet(seal_in())
    assert [t.text for t in sheet.texts("name") if t.anchor == "end"] == ["1"]
    assert "K1 holds itself" in [t.text for t in sheet.texts("name")]
    assert [t.text for t in sheet.texts("comment")] == ["through its own auxiliary"]
    assert [x.role for x in sheet.walk() if x.role.startswith("rail")] == ["rail", "rail"]


def test_power_flows_heavy_and_ends_in_an_arrowhead():
    sheet = ladder_sheet(seal_in(), HELD)
    assert "live-mark" in roles(element(sheet, 1))  # S2 is open: power stops there
    assert "live-mark" not in roles(element(sheet, 2))  # K1_A lets it through
    assert "live-mark" in roles(element(sheet, 3))  # it ends at the coil
    links = [x for x in sheet.groups()["rung:1"].shapes if isinstance(x, Line) and x.role in {"live", "dead"}]
    assert roles(links) == ["live", "live", "live"]
    assert roles(element(sheet, 1)).count("dead") == 1


def test_without_a_flow_nothing_is_live_or_dead():
    used = {x.role for x in ladder_sheet(seal_in()).walk()}
    assert not used & {"live", "dead", "live-mark", "rail-live", "symbol-live"}


def test_a_joint_is_dotted_only_where_three_lines_meet():
    sheet = ladder_sheet(seal_in())
    dots = [x for x in sheet.walk() if isinstance(x, Arc) and x.role == "joint"]
    assert sorted(round(d.cx) for d in dots)[0] < sorted(round(d.cx) for d in dots)[1]
    assert len(dots) == 2


@pytest.mark.parametrize("symbol", ["", "/", "P", "N"])
def test_contacts_are_two_bars_with_their_sign_between(symbol):
    shapes = element(ladder_sheet(one("contact", symbol)), 0)
    upright = [x for x in shapes if x.role == "symbol" and x.x1 == x.x2]
    slanted = [x for x in shapes if x.role == "symbol" and x.x1 != x.x2]
    letters = [x.text for x in shapes if x.role == "label"]
    assert len(upright) == 2
    assert len(slanted) == (symbol == "/")
    assert letters == ([symbol] if symbol in {"P", "N"} else [])


@pytest.mark.parametrize("symbol", ["", "/", "S", "R", "P", "N"])
def test_coils_are_two_arcs_with_their_sign_between(symbol):
    shapes = element(ladder_sheet(one("coil", symbol)), 0)
    arcs = [x for x in shapes if isinstance(x, Arc)]
    assert [(a.start, a.end) for a in arcs] == [(130, 230), (-50, 50)]
    assert [x.text for x in shapes if x.role == "label"] == ([symbol] if symbol not in {"", "/"} else [])


def test_a_block_has_its_instance_above_its_type_in_the_top_line_and_its_pins_inside():
    pins = (Pin("IN", "left", 0, "", True), Pin("PT", "left", 1, "T#200ms"), Pin("Q", "right", 0, "", True))
    shapes = element(ladder_sheet(one("block", "TON", "T1", pins=pins)), 0)
    (box,) = [x for x in shapes if x.role == "box"]
    at = {x.text: x for x in shapes if hasattr(x, "text")}
    assert at["T1"].y < box.y < at["TON"].y < at["IN"].y
    assert box.x < at["IN"].bounds()[0]
    assert at["Q"].bounds()[2] < box.x + box.width
    assert at["T#200ms"].bounds()[2] < box.x


@pytest.mark.parametrize("name", ["K1", "START_OF_THE_CONVEYOR_AFTER_THE_CRUSHER_IS_CLEAR", "x" * 60])
@pytest.mark.parametrize("kind", ["contact", "coil", "block"])
def test_long_names_fit(kind, name):
    assert ladder_sheet(one(kind, "TON" if kind == "block" else "", name), title="T" * 80).check() == []


def test_a_whole_ladder_has_no_overlap_and_is_the_same_each_time():
    assert ladder_sheet(seal_in(), HELD).check() == []
    assert ladder_svg(seal_in(), HELD) == ladder_svg(seal_in(), HELD)


def test_the_svg_tells_each_element_in_words():
    text = ladder_svg(seal_in(), HELD)
    assert "normally open contact S2 lets no power through, power reaches it" in text
    assert "coil K1, power" in text


def test_axes_in_axes_out():
    from matplotlib.figure import Figure

    ax = Figure(figsize=(8, 3)).add_subplot()
    assert draw_ladder(seal_in(), flow=HELD, ax=ax) is ax
    assert {t.get_text() for t in ax.texts} >= {"S1", "S2", "K1_A", "K1"}


def test_slips_are_named():
    with pytest.raises(DrawingError, match="got str"):
        ladder_svg("K1 := S1;")
    with pytest.raises(DrawingError, match="nothing of element 3"):
        ladder_svg(seal_in(), {k: HELD[k] for k in (0, 1, 2)})
    with pytest.raises(DrawingError, match="one matplotlib Axes"):
        draw_ladder(seal_in(), ax="here")
