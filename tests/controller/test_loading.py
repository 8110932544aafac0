"""What a controller says to a program before it takes it."""

from __future__ import annotations

import pytest

from labkit.controller import Controller, LoadError, Tag, TagTable, family
from labkit.logic import Program, read_st

HOLD = "K1 := S1 AND (S2 OR K1);"


def with_rules(**rules):
    alder = family("alder")
    return alder.model_copy(update={"program": alder.program.model_copy(update=rules)})


REFUSED = [
    (
        "K1 := S1 AND K1_B;",
        "load-unknown-tag",
        "K1_B is neither a tag nor a variable of the program",
        "rung 1, line 1, column 14",
        "Did you mean K1_A? Or add K1_B",
    ),
    (
        "K1 := S1 AND QUITE_ELSE;",
        "load-unknown-tag",
        "QUITE_ELSE is neither a tag nor a variable of the program",
        "rung 1, line 1, column 14",
        "Or add QUITE_ELSE",
    ),
    (
        "P1 := S1;\nK1_A := S2;",
        "load-writes-input",
        "the program writes to K1_A, which is an input",
        "rung 2, line 2, column 1",
        "an input comes",
    ),
    (
        "K1 := LOOSE;",
        "load-no-address",
        "LOOSE has no address: it is an input without a point",
        "rung 1, line 1, column 7",
        "give the tag a point such as I1",
    ),
    (
        "LAMP := S1;",
        "load-no-address",
        "LAMP has no address: it is an output without a point",
        "rung 1, line 1, column 1",
        "give the tag a point such as Q1",
    ),
    (
        "FIRST_SCAN := S1;",
        "load-writes-flag",
        "FIRST_SCAN is raised by the controller; a program can only read it",
        "rung 1, line 1, column 1",
        "",
    ),
    (
        "VAR S1 : BOOL; END_VAR\nK1 := S1;",
        "load-name-taken",
        "S1 is in the tag table (an input), so no variable can have that name",
        "line 1, column 5",
        "take S1 out of VAR",
    ),
    (
        "VAR M1 : TON; END_VAR\nM1(IN := S1, PT := T#1s);",
        "load-name-taken",
        "M1 is in the tag table (a memory bit), so no block can have that name",
        "line 1, column 5",
        "",
    ),
    (
        "VAR K1 : TON; END_VAR\nK1(IN := S1, PT := T#1s);",
        "load-name-taken",
        "K1 is in the tag table (an output), so no block can have that name",
        "line 1, column 5",
        "give the block a name of its own, such as T_K1",
    ),
    (
        "VAR FIRST_SCAN : BOOL; END_VAR\nK1 := FIRST_SCAN;",
        "load-name-taken",
        "FIRST_SCAN is the name of the first-scan flag, so no variable can have it",
        "line 1, column 5",
        "choose",
    ),
]


@pytest.mark.parametrize(("text", "code", "what", "where", "try_this"), REFUSED)
def test_a_program_that_does_not_fit_is_refused_with_its_place(tags, text, code, what, where, try_this):
    controller = Controller("alder", TagTable([*tags, Tag("LOOSE", "input"), Tag("LAMP", "output")]))
    controller.load(read_st(HOLD))
    with pytest.raises(LoadError) as slip:
        controller.load(read_st(text))
    assert (slip.value.code, slip.value.what, slip.value.where) == (code, what, where)
    assert slip.value.try_this.startswith(try_this)
    assert controller.program == read_st(HOLD), "the present program stays"


def test_a_family_without_the_flag_offers_another_way(tags):
    birch = family("birch")
    without = birch.model_copy(update={"start": birch.start.model_copy(update={"first_scan": ()})})
    with pytest.raises(LoadError, match="family birch has no first-scan flag") as slip:
        Controller(without, tags).load(read_st("K1 := FIRST_SCAN;"))
    assert slip.value.try_this.startswith("use a memory bit that is not retained")


def test_the_way_offered_in_place_of_the_flag_works(rig):
    """The hint of the refusal above, tried: the bit is 0 in the first scan and 1 from the second on."""
    r = rig("alder", "P1 := NOT M1;\nM1 := TRUE;").up()
    r.scan()
    assert r.bit("P1") == 1
    r.scan()
    assert r.bit("P1") == 0


TWICE = "K1 := S1;\nP1 := S3;\nK1 := S2;"


def test_a_coil_that_stands_twice_is_noted_or_refused_or_let_go(tags):
    loud, strict, silent = (Controller(with_rules(duplicate_coil=p), tags) for p in ("warn", "refuse", "allow"))
    loud.load(read_st(TWICE))
    (note,) = loud.notes
    assert note.what == "the coil K1 stands more than once: in rungs 1 and 3"
    assert "the last one wins" in str(note)
    silent.load(read_st(TWICE))
    assert silent.notes == ()
    with pytest.raises(LoadError, match="the coil K1 stands more than once"):
        strict.load(read_st(TWICE))


def test_the_last_of_two_coils_wins(rig):
    r = rig("alder", TWICE).up()
    r.put("I1", True)
    r.wait(30_000)
    assert r.bit("K1") == 0
    r.put("I2", True)
    r.wait(30_000)
    assert r.bit("K1") == 1


def test_a_note_goes_with_its_program(tags):
    controller = Controller("alder", tags)
    controller.load(read_st(TWICE))
    controller.load(read_st(HOLD))
    assert controller.notes == ()


def test_a_program_that_is_too_long_is_refused(tags):
    rung = read_st(HOLD).rungs[0]
    controller = Controller(with_rules(rungs=3), tags)
    controller.load(Program("just", (rung,) * 3))
    with pytest.raises(LoadError, match="the program has 4 rungs; family alder takes 3"):
        controller.load(Program("long", (rung,) * 4))


def test_variables_and_blocks_of_the_program_need_no_tag(tags):
    controller = Controller("alder", tags)
    controller.load(
        read_st("VAR HELP : BOOL := TRUE; T1 : TON; END_VAR\nT1(IN := S1 AND HELP, PT := T#1s);\nK1 := T1.Q;")
    )
    assert controller.bit("HELP") == 1
    assert controller.bit("T1.Q") == 0
    assert controller.watch("T1.ET") == 0
