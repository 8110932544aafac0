"""Shapes, text widths and the two painters."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.plots import Arc, DrawingError, Group, Hatch, Line, Polyline, Rect, Sheet, Text
from labkit.plots._axes import draw
from labkit.plots._labels import pack
from labkit.plots._measure import shorten, text_width, wrap
from labkit.plots._svg import to_svg
from labkit.plots.theme import STYLES, style_of, tint_of

SVG = "{http://www.w3.org/2000/svg}"

ALL = Sheet(
    200,
    100,
    (
        Rect(0, 0, 200, 100, "paper"),
        Line(10, 10, 50, 10, "live"),
        Polyline(((10, 20), (50, 20), (50, 40)), "dead"),
        Polyline(((60, 20), (70, 20), (65, 30)), "live-mark", closed=True),
        Arc(100, 30, 10, "symbol", -60, 60),
        Arc(130, 30, 10, "lamp-lit", tint="GN"),
        Rect(10, 60, 40, 20, "part", 4),
        Hatch(60, 60, 40, 20, "/"),
        Group((Text(120, 80, 'S2 < "start" & $x$', "name", bold=True),), "S2", "start & go"),
    ),
    title="All shapes <here>",
    desc="each once",
)


def test_every_shape_comes_out_as_well_formed_svg():
    root = ET.fromstring(to_svg(ALL))
    assert (root.get("width"), root.get("height"), root.get("viewBox")) == ("200", "100", "0 0 200 100")
    assert root.find(f"{SVG}title").text == "All shapes <here>"
    assert root.find(f"{SVG}desc").text == "each once"
    group = root.find(f"{SVG}g")
    assert group.get("data-of") == "S2"
    assert group.find(f"{SVG}title").text == "start & go"
    assert group.find(f"{SVG}text").text == 'S2 < "start" & $x$'
    assert len(root.findall(f"{SVG}circle")) == 1
    assert root.get("role") == "img"


def test_the_svg_has_no_script_and_reaches_nothing_outside():
    text = to_svg(ALL)
    assert "<script" not in text
    assert "http" not in text.replace('xmlns="http://www.w3.org/2000/svg"', "")
    assert "href" not in text


@given(st.text(max_size=30))
def test_any_text_at_all_makes_well_formed_svg(text):
    sheet = Sheet(10, 10, (Group((Text(0, 9, text),), text, text),), title=text, desc=text)
    ET.fromstring(to_svg(sheet).encode())


def test_a_tint_replaces_what_its_role_says():
    text = to_svg(ALL)
    assert f'style="fill:{tint_of("green")}"' in text
    wire = to_svg(Sheet(9, 9, (Line(0, 0, 9, 9, "wire", tint="BU"),)))
    assert f'style="stroke:{tint_of("blue")}"' in wire


def test_the_axes_painter_paints_every_shape_at_the_sheet_size():
    ax = draw(ALL)
    figure = ax.get_figure()
    assert tuple(figure.get_size_inches()) == pytest.approx((200 / 96, 100 / 96))
    assert [t.get_text() for t in ax.texts] == [r'S2 < "start" & \$x\$']
    assert ax.texts[0].get_gid() == "S2"
    figure.canvas.draw()  # warnings, such as for a missing letter, are errors in these tests


@pytest.mark.parametrize("kind", ["/", "\\", "x", "|", "-"])
def test_hatch_lines_stay_inside_their_box(kind):
    for x1, y1, x2, y2 in Hatch(10, 20, 33, 7, kind, 4).segments():
        assert 10 <= min(x1, x2) <= max(x1, x2) <= 43 + 1e-9
        assert 20 - 1e-9 <= min(y1, y2) <= max(y1, y2) <= 27 + 1e-9


def test_check_finds_what_is_off_the_sheet_and_what_overlaps():
    sheet = Sheet(
        100, 50, (Line(0, 0, 101, 0, "live"), Text(10, 20, "one"), Text(12, 22, "two"), Text(10, 45, "three"))
    )
    assert [w.split(":")[0] for w in sheet.check()] == ["off the sheet", "texts overlap"]


def test_widths_agree_with_the_font_that_matplotlib_brings():
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import TextPath

    for text in ("K1_A bit 24 V", "milliseconds", "WWWW", "iiii"):
        for weight in ("normal", "bold"):
            drawn = TextPath((0, 0), text + "|", size=100, prop=FontProperties(family="DejaVu Sans", weight=weight))
            bar = TextPath((0, 0), "|", size=100, prop=FontProperties(family="DejaVu Sans", weight=weight))
            expected = drawn.get_extents().x1 - bar.get_extents().x1
            assert text_width(text, 100, bold=weight == "bold") == pytest.approx(expected, rel=0.02)


@given(st.text(alphabet="abcXYZ_.: 0189-é漢", max_size=60), st.floats(20, 200))
def test_wrapped_lines_fit_and_lose_no_letter(text, room):
    lines = wrap(text, room, 10)
    assert all(text_width(line, 10) <= room for line in lines)
    assert "".join("".join(lines).split()) == "".join(text.split())


@given(st.text(max_size=60), st.floats(0, 200))
def test_a_shortened_text_fits(text, room):
    assert text_width(shorten(text, room, 10), 10) <= room


@given(st.lists(st.tuples(st.floats(50, 900), st.sampled_from(["S2 pressed", "F4 off", "x" * 60])), max_size=40))
def test_labels_touch_no_label_of_their_lane(labels):
    flags = [f for f in pack(labels, left=50, right=900, size=10) if f.lane >= 0]
    for i, a in enumerate(flags):
        assert a.left >= 50
        assert a.left + a.width <= 900 + 1e-6
        for b in flags[i + 1 :]:
            if a.lane == b.lane:
                assert a.left + a.width <= b.left or b.left + b.width <= a.left


def test_live_is_told_by_weight_before_colour():
    for live, dead in (("live", "dead"), ("symbol-live", "symbol"), ("box-live", "box"), ("wire-live", "wire")):
        assert STYLES[live].width >= 1.7 * STYLES[dead].width, live


def test_power_in_a_ladder_is_ink_and_nothing_is_filled_behind_a_symbol():
    ink = STYLES["dead"].stroke
    assert {STYLES[role].stroke for role in ("live", "live-mark", "rail-live", "symbol-live", "box-live")} == {ink}
    assert "on-wash" not in STYLES


def test_an_unknown_role_is_named_with_a_guess():
    with pytest.raises(DrawingError, match="no role 'lvie'") as caught:
        style_of("lvie")
    assert caught.value.try_this == "Did you mean live?"


@pytest.mark.parametrize("word", ["GNYE", "green-yellow", "Green-and-Yellow", "GN/YE", "green yellow"])
def test_a_protective_conductor_is_known_by_any_spelling(word):
    assert tint_of(word) == tint_of("green-yellow") != tint_of("no such colour")
