"""A layout is complete for drawing, and its links carry the power that the walker says."""

from __future__ import annotations

from hypothesis import given, settings
from logic_strategies import programs, scans

from labkit.logic import layout, read_ladder, read_st, walker
from labkit.logic.nodes import elements

HOLD = read_ladder("""
|   S1        S2                K1   |
|--| |---+---| |---+-----------( )---|
|        |  K1_A   |                 |
|        +---|/|---+                 |
""")


def test_the_hold_on_its_grid():
    rung = layout(HOLD).rungs[0]
    assert (rung.number, rung.columns, rung.rows) == (1, 3, 2)
    assert [(c.row, c.col, c.kind, c.symbol, c.name, c.element) for c in rung.cells] == [
        (0, 0, "contact", "", "S1", 0),
        (0, 1, "contact", "", "S2", 1),
        (1, 1, "contact", "/", "K1_A", 2),
        (0, 2, "coil", "", "K1", 3),
    ]
    assert {(link.row1, link.col1, link.row2, link.col2, link.feeds) for link in rung.links} == {
        (0, 1, 1, 1, (0,)),
        (0, 2, 1, 2, (1, 2)),
    }


def test_power_in_the_hold():
    walk = walker(HOLD)
    flow = walk.scan({"S1": True, "S2": False, "K1_A": False}, 0)
    assert flow[0] == (True, True, True)
    assert flow[1] == (True, False, False)
    assert flow[2] == (True, True, True)
    assert flow[3] == (True, True, True)
    opening, closing = sorted(layout(HOLD).rungs[0].links, key=lambda link: link.col1)
    assert flow.live(opening.feeds)
    assert flow.live(closing.feeds)
    flow = walk.scan({"S1": True, "S2": False, "K1_A": True}, 0)
    assert not flow.live(closing.feeds)
    assert flow[3] == (False, False, False)


def test_coils_stand_at_the_right_and_all_rungs_are_equally_wide():
    picture = layout(read_st("K1 := A AND B AND C; K2 := A;"))
    assert [r.columns for r in picture.rungs] == [4, 4]
    assert [c.col for c in picture.rungs[1].cells] == [0, 3]


def test_a_text_is_brought_into_ladder_form_and_says_which_program_it_draws():
    program = read_st("K1 := NOT (A OR B);")
    picture = layout(program)
    assert [(c.symbol, c.name) for c in picture.rungs[0].cells] == [("/", "A"), ("/", "B"), ("", "K1")]
    assert picture.program != program
    assert layout(HOLD).program is HOLD


def test_a_block_with_its_pins():
    picture = layout(read_st("VAR C1 : CTU; END_VAR\nC1(CU := A, R := B, PV := 5, Q => K1);"))
    block = picture.rungs[0].cells[-1]
    assert (block.kind, block.symbol, block.name, block.width, block.height) == ("block", "CTU", "C1", 3, 3)
    assert [(p.name, p.side, p.row, p.text, p.wired) for p in block.pins] == [
        ("CU", "left", 0, "", True),
        ("R", "left", 1, "B", False),
        ("PV", "left", 2, "5", False),
        ("Q", "right", 0, "K1", True),
        ("CV", "right", 1, "", False),
    ]


@settings(max_examples=200, deadline=None)
@given(programs())
def test_every_element_has_one_cell_and_cells_do_not_overlap(program):
    picture = layout(program)
    for rung, drawn in zip(picture.rungs, picture.program.rungs, strict=True):
        on_pins = {p.text for c in rung.cells for p in c.pins}
        placed = [c.element for c in rung.cells]
        assert len(placed) == len(set(placed))
        missing = [e for e in elements(drawn.network) if e.element not in placed]
        assert all(getattr(e, "name", str(getattr(e, "value", "")).upper()) in on_pins for e in missing)
        taken = set()
        for c in rung.cells:
            assert c.col >= 0
            assert c.col + c.width <= rung.columns
            assert c.row + c.height <= rung.rows
            # the lead columns of a block are its own only where they carry something
            inside = range(c.col + 1, c.col + 2) if c.kind == "block" else range(c.col, c.col + 1)
            for place in {(r, col) for r in range(c.row, c.row + c.height) for col in inside}:
                assert place not in taken
                taken.add(place)
        for link in rung.links:
            assert (link.row1 == link.row2) != (link.col1 == link.col2)
            if link.row1 == link.row2:
                assert all((link.row1, col) not in taken for col in range(link.col1, link.col2))


@settings(max_examples=150, deadline=None)
@given(programs(), scans(lanes=1, most=4))
def test_power_reaches_a_cell_exactly_when_a_live_link_or_neighbour_brings_it(program, steps):
    """What stands left of a cell (the rail, a link's end, another cell) is live if and only if its power_in is."""
    picture = layout(program)
    walk, state = walker(picture.program), {}
    for now, inputs in steps:
        state.update(inputs[0])
        flow = walk.scan(state, now)
        for rung in picture.rungs:
            behind = {(c.row, c.col + c.width): c.element for c in rung.cells}
            for c in rung.cells:
                place = (c.row, c.col)
                upright = [k for k in rung.links if k.col1 == k.col2 == c.col and k.row1 <= c.row <= k.row2]
                level = [k for k in rung.links if k.row1 == k.row2 and (k.row1, k.col2) == place]
                if c.col == 0:
                    live = True
                elif upright or level:
                    live = flow.live((upright or level)[0].feeds)
                else:
                    live = flow[behind[place]].power_out
                assert live == flow[c.element].power_in
            stood = {}
            for k in rung.links:
                if k.col1 == k.col2:  # no two upright wires lie on one another
                    for row in range(k.row1, k.row2):
                        assert stood.setdefault((row, k.col1), k) is k
