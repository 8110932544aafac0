"""Beginners' slips: one table for the code, its test and the docs.

A reader that meets a slip calls :func:`slip` with the code below and a place; the sentence and the cure come from the
table. The test feeds every `bad` snippet back and expects its code; ``docs/reference/messages.md`` is printed from it.
"""

from __future__ import annotations

import textwrap
from dataclasses import dataclass

from labkit.base import LabkitError
from labkit.logic.limits import LIMITS
from labkit.logic.nodes import Span

__all__ = ["SLIPS", "Slip", "SlipError", "slip"]


class SlipError(LabkitError):
    """A program text that cannot be read: what is wrong, the line with a caret below, and what to try.

    Parameters
    ----------
    line, column
        Place in the text, both from 1.
    caret
        The source line, and below it a line with ``^`` under the place.
    """

    default_code = "slip"

    def __init__(self, what: str, *, line: int, column: int, caret: str, try_this: str, code: str) -> None:
        super().__init__(what, where=f"line {line}, column {column}", try_this=try_this, code=code)
        self.line = line
        self.column = column
        self.caret = caret

    def __str__(self) -> str:
        shown = textwrap.indent(self.caret, "    ")
        return f"{self.what}\n  where: {self.where}\n{shown}\n  try:   {self.try_this}"


@dataclass(frozen=True, slots=True)
class Slip:
    """One row: `what` and `try_this` may hold ``{words}``; `bad` are snippets, each with its language."""

    code: str
    what: str
    try_this: str
    bad: tuple[tuple[str, str], ...]


def slip(code: str, text: str, span: Span, /, **words: object) -> SlipError:
    """The error for the slip `code` at `span`, where `text` is the whole line it stands in."""
    row = SLIPS[code]
    words = {key: _clipped(value) for key, value in words.items()}
    if code == "too-big":
        limit = LIMITS[str(words["limit"])]
        words = {"what": limit.what.format(most=limit.most, got=words["got"]), "cure": limit.try_this}
    shown, column = text, span.column
    if len(shown) > 140:  # a long line is shown around the place only
        start = max(0, column - 70)
        shown, column = shown[start : start + 140], column - start
    width = max(1, min(span.width, len(shown) - column + 1))
    caret = f"{shown}\n{' ' * (column - 1)}{'^' * width}"
    return SlipError(
        row.what.format(**words).strip(),
        line=max(1, span.line),
        column=max(1, span.column),
        caret=caret,
        try_this=row.try_this.format(**words).strip(),
        code=code,
    )


def _clipped(word: object) -> object:
    """A stranger's word, short enough for a sentence."""
    return f"{word[:37]}..." if isinstance(word, str) and len(word) > 40 and " " not in word else word


def _ladder(text: str) -> tuple[str, str]:
    return "ladder", textwrap.dedent(text).strip("\n")


def _st(text: str) -> tuple[str, str]:
    return "st", textwrap.dedent(text).strip("\n")


_ROWS = (
    # ---- both languages
    Slip(
        "empty",
        "this program is empty: there is no rung and no statement in it",
        "write one rung, or one statement such as K1 := S1;",
        (_st("(* nothing yet *)"), _ladder("|      |"), _ladder("")),
    ),
    Slip(
        "comment-open",
        "this comment never ends",
        "close it with *) before the next rung or statement",
        (_st("(* hold\nK1 := S1;"), _ladder("(* hold\n|   S1     K1  |\n|--| |----( )--|")),
    ),
    Slip("too-big", "{what}", "{cure}", (_st("K1 := " + "(" * 40 + "S1" + ")" * 40 + ";"),)),
    Slip(
        "look-alike",
        "{char} stands here; it only looks like the plain character",
        "type {plain} on the keyboard instead; text pasted from a word processor often carries such characters",
        (
            _ladder("|   S1     K1  |\n|--| |–---( )--|"),
            _st("K1 := “S1”;"),
            _ladder("│   S1     K1  │\n│--| |----( )--│"),
        ),
    ),
    Slip(
        "not-ascii",
        "the character {char} ({number}) has no meaning in a program",
        "names are made of the letters A to Z, digits and the underscore; other letters may stand in a comment",
        (_st("Pümpe := S1;"), _ladder("|   S1    KÜ1  |\n|--| |----( )--|")),
    ),
    Slip(
        "unknown-character",
        "the character {char} has no meaning here",
        "take it out; the signs of a rung are | - + ( ) and those of a statement := ; ( ) , .",
        (_st("K1 := S1 AND S2?;"), _ladder("|   S1     K1  |\n|--| |----[ ]--|"), _st("K1 := {S1};")),
    ),
    Slip(
        "name-hyphen",
        "{name} is not a name: a hyphen may not stand inside a name",
        "write {better}",
        (_ladder("|  K1-A    K1  |\n|--| |----( )--|"), _st("K1 := K1-A;")),
    ),
    Slip(
        "name-space",
        "a name has no blank in it: {name}",
        "write {better}",
        (_ladder("|  S2 START    K1  |\n|----| |------( )--|"), _st("K1 := S2 START;"), _st("RUN LAMP := K1;")),
    ),
    Slip(
        "name-digit",
        "{name} is not a name: a name may not start with a digit",
        "write {better}",
        (_ladder("|   2S     K1  |\n|--| |----( )--|"), _st("K1 := 2S;"), _st("1K := S1;")),
    ),
    Slip(
        "name-reserved",
        "{name} is a word of the language and cannot be a name",
        "choose another name, for example {better}",
        (
            _ladder("|   AND    K1  |\n|--| |----( )--|"),
            _st("TIME := S1;"),
            _st("VAR\n  TON : BOOL;\nEND_VAR\nK1 := S1;"),
        ),
    ),
    Slip(
        "name-sign",
        "{name} is not a name",
        "names are made of the letters A to Z, digits and the underscore, and start with a letter",
        (_ladder("|   S$1    K1  |\n|--| |----( )--|"), _st("K1 := S.;")),
    ),
    Slip(
        "direct-address",
        "{name} is an address; programs here use tag names",
        "write the tag name; the tag table of the controller says which point it is",
        (_st("%QX0.0 := S1;"), _ladder("| %IX0.1   K1  |\n|--| |----( )--|"), _st("K1 := %I0.1;")),
    ),
    Slip(
        "write-to-constant",
        "{name} cannot be written here: it is {kind}",
        "write to a BOOL tag instead",
        (
            _st("TRUE := S1;"),
            _ladder("|   S1   TRUE  |\n|--| |----( )--|"),
            _st("VAR\n  T1 : TON;\nEND_VAR\nT1(IN := S1, PT := T#1s);\nT1.Q := S2;"),
        ),
    ),
    Slip(
        "not-bool",
        "{name} is {kind} and has no TRUE or FALSE for a contact or an expression",
        "read a BOOL tag, or the output of a block such as {better}",
        (
            _st("VAR\n  D : TIME := T#1s;\nEND_VAR\nK1 := D;"),
            _st("VAR\n  T1 : TON;\nEND_VAR\nT1(IN := S1, PT := T#1s);\nK1 := T1;"),
            _st("VAR\n  T1 : TON;\nEND_VAR\nT1(IN := S1, PT := T#1s);\nK1 := T1.ET;"),
            _st("K1 := S1 AND 5;"),
        ),
    ),
    # ---- blocks
    Slip(
        "block-unknown",
        "there is no standard block called {name}. {hint}",
        "the blocks are TON, TOF, TP, CTU, CTD, CTUD, SR, RS, R_TRIG and F_TRIG",
        (
            _st("VAR\n  T1 : TONN;\nEND_VAR\nT1(IN := S1, PT := T#1s);"),
            _ladder(
                """
                |             T1           |
                |          +------+        |
                |   S1     | TIMR |   K1   |
                |--| |-----|IN   Q|--( )---|
                |   T#1s---|PT  ET|        |
                |          +------+        |
                """
            ),
        ),
    ),
    Slip(
        "block-undeclared",
        "{name} is called like a block, but nothing says which block it is",
        "declare it above: VAR {name} : TON; END_VAR",
        (_st("T1(IN := S1, PT := T#1s);\nK1 := T1.Q;"),),
    ),
    Slip(
        "block-never-called",
        "{name} is read, but no block {instance} is called in this program",
        "call the block first, or check the name. {hint}",
        (_st("K1 := T1.Q;"), _ladder("|  T1.Q    K1  |\n|--| |----( )--|")),
    ),
    Slip(
        "block-twice",
        "the block {name} is used a second time; it was already called on line {line}",
        "give each use a block of its own, for example {better}",
        (
            _st("VAR\n  T1 : TON;\nEND_VAR\nT1(IN := S1, PT := T#1s);\nT1(IN := S2, PT := T#1s);"),
            _ladder(
                """
                |            T1              |
                |         +------+           |
                |   S1    | TON  |    K1     |
                |--| |----|IN   Q|---( )-----|
                |   T#1s--|PT  ET|           |
                |         +------+           |
                |            T1              |
                |         +------+           |
                |   S2    | TON  |    K2     |
                |--| |----|IN   Q|---( )-----|
                |   T#2s--|PT  ET|           |
                |         +------+           |
                """
            ),
        ),
    ),
    Slip(
        "block-name-clash",
        "{name} is used both as a block and as a BOOL tag",
        "give the block another name",
        (_st("VAR\n  T1 : TON;\nEND_VAR\nT1(IN := S1, PT := T#1s);\nT1 := S2;"),),
    ),
    Slip(
        "block-type-clash",
        "{name} was declared as {declared}, but is drawn as {drawn}",
        "make the declaration and the box say the same",
        (
            _ladder(
                """
                VAR T1 : TOF; END_VAR
                |            T1            |
                |         +------+         |
                |   S1    | TON  |    K1   |
                |--| |----|IN   Q|---( )---|
                |   T#1s--|PT  ET|         |
                |         +------+         |
                """
            ),
        ),
    ),
    Slip(
        "block-unnamed",
        "this {type} block has no name above its box",
        "write an instance name such as T1 in the line above the box",
        (
            _ladder(
                """
                |         +------+         |
                |   S1    | TON  |    K1   |
                |--| |----|IN   Q|---( )---|
                |   T#1s--|PT  ET|         |
                |         +------+         |
                """
            ),
        ),
    ),
    Slip(
        "block-untyped",
        "this box does not say which block it is",
        "write the type, such as TON, alone in the first line inside the box",
        (
            _ladder(
                """
                |            T1            |
                |         +------+         |
                |   S1    |      |    K1   |
                |--| |----|IN   Q|---( )---|
                |   T#1s--|PT  ET|         |
                |         +------+         |
                """
            ),
        ),
    ),
    Slip(
        "block-box-open",
        "the box of this {type} block is not closed",
        "draw a full frame: +-----+ above and below, | on both sides, all corners in the same columns",
        (
            _ladder(
                """
                |            T1            |
                |         +------+         |
                |   S1    | TON  |    K1   |
                |--| |----|IN   Q|---( )---|
                |   T#1s--|PT  ET|         |
                """
            ),
        ),
    ),
    Slip(
        "pin-unknown",
        "a {type} block has no {side}pin {pin}. {hint}",
        "the pins of {type} are {pins}",
        (
            _st("VAR\n  T1 : TON;\nEND_VAR\nT1(EN := S1, PT := T#1s);"),
            _st("VAR\n  T1 : TON;\nEND_VAR\nT1(IN := S1, PT := T#1s);\nK1 := T1.DN;"),
            _ladder(
                """
                |            T1            |
                |         +------+         |
                |   S1    | TON  |    K1   |
                |--| |----|EN   Q|---( )---|
                |   T#1s--|PT  ET|         |
                |         +------+         |
                """
            ),
        ),
    ),
    Slip(
        "pin-twice",
        "the pin {pin} of {name} is connected twice",
        "keep one of the two",
        (_st("VAR\n  T1 : TON;\nEND_VAR\nT1(IN := S1, IN := S2, PT := T#1s);"),),
    ),
    Slip(
        "pin-unfed",
        "the pin {pin} of {name} is not connected, so the block never works",
        "lead a contact to {pin}",
        (
            _st("VAR\n  T1 : TON;\nEND_VAR\nT1(PT := T#1s);"),
            _ladder(
                """
                |            T1            |
                |         +------+         |
                |         | TON  |    K1   |
                |         |IN   Q|---( )---|
                |   T#1s--|PT  ET|         |
                |         +------+         |
                """
            ),
        ),
    ),
    Slip(
        "preset-missing",
        "{name} has no {pin}: {why}",
        "give it one, for example {better}",
        (
            _st("VAR\n  T1 : TON;\nEND_VAR\nT1(IN := S1);"),
            _st("VAR\n  C1 : CTU;\nEND_VAR\nC1(CU := S1);"),
            _ladder(
                """
                |            T1            |
                |         +------+         |
                |   S1    | TON  |    K1   |
                |--| |----|IN   Q|---( )---|
                |         |PT  ET|         |
                |         +------+         |
                """
            ),
        ),
    ),
    Slip(
        "preset-wrong",
        "{text} cannot stand on {pin}: {pin} takes {kind}",
        "write {better}, or a variable declared with such a value",
        (
            _st("VAR\n  T1 : TON;\nEND_VAR\nT1(IN := S1, PT := 200);"),
            _st("VAR\n  C1 : CTU;\nEND_VAR\nC1(CU := S1, PV := T#2s);"),
            _st("VAR\n  T1 : TON;\nEND_VAR\nT1(IN := S1, PT := S2);"),
        ),
    ),
    Slip(
        "pin-wrong",
        "the pin {pin} takes {kind}",
        "{cure}",
        (
            _ladder(
                """
                |            C1            |
                |         +------+         |
                |   S1    | CTU  |    K1   |
                |--| |----|CU   Q|---( )---|
                |   T#1s--|R   CV|         |
                |      5--|PV    |         |
                |         +------+         |
                """
            ),
            _ladder(
                """
                |            T1                 |
                |         +------+              |
                |   S1    | TON  |    K1        |
                |--| |----|IN   Q|---( )--------|
                |   T#1s--|PT  ET|--PASSED      |
                |         +------+              |
                """
            ),
        ),
    ),
    Slip(
        "time-unmarked",
        "{text} is not a time yet: a time starts with T#",
        "write {better}",
        (
            _st("VAR\n  T1 : TON;\nEND_VAR\nT1(IN := S1, PT := 200ms);"),
            _ladder(
                """
                |            T1            |
                |         +------+         |
                |   S1    | TON  |    K1   |
                |--| |----|IN   Q|---( )---|
                |  200ms--|PT  ET|         |
                |         +------+         |
                """
            ),
        ),
    ),
    Slip(
        "time-wrong",
        "{text} is not a time that can be read",
        "write number and unit from large to small: T#200ms, T#1.5s, T#1m30s; units are d, h, m, s, ms and us",
        (
            _st("VAR\n  T1 : TON;\nEND_VAR\nT1(IN := S1, PT := T#200);"),
            _st("VAR\n  T1 : TON;\nEND_VAR\nT1(IN := S1, PT := T#);"),
            _st("VAR\n  T1 : TON;\nEND_VAR\nT1(IN := S1, PT := T#500ms1s);"),
        ),
    ),
    Slip(
        "count-range",
        "{text} does not fit: a count is a whole number from -32768 to 32767",
        "choose a smaller number",
        (_st("VAR\n  C1 : CTU;\nEND_VAR\nC1(CU := S1, PV := 40000);"),),
    ),
    # ---- the VAR header
    Slip(
        "var-open",
        "the VAR on line {line} has no END_VAR",
        "write END_VAR after the last declaration",
        (_st("VAR\n  T1 : TON;\nK1 := S1;"), _ladder("VAR\n  T1 : TON;\n|   S1     K1  |\n|--| |----( )--|")),
    ),
    Slip(
        "var-shape",
        "a declaration is a name, a colon, a type and a semicolon; {found} does not fit",
        "write for example S1 : BOOL; or T1 : TON; or D : TIME := T#2s;",
        (_st("VAR\n  T1 TON;\nEND_VAR\nK1 := S1;"), _st("VAR\n  S1 : BOOL\nEND_VAR\nK1 := S1;")),
    ),
    Slip(
        "var-type",
        "there is no type {name} here. {hint}",
        "use BOOL, TIME, INT or a standard block such as TON",
        (_st("VAR\n  S1 : BOLL;\nEND_VAR\nK1 := S1;"), _st("VAR\n  X : REAL;\nEND_VAR\nK1 := S1;")),
    ),
    Slip(
        "var-twice",
        "{name} is declared twice; it was already declared on line {line}",
        "take one of the two out",
        (_st("VAR\n  S1 : BOOL;\n  S1 : BOOL;\nEND_VAR\nK1 := S1;"),),
    ),
    Slip(
        "var-value",
        "{text} is no starting value for {type}",
        "write {better}",
        (_st("VAR\n  S1 : BOOL := 5;\nEND_VAR\nK1 := S1;"), _st("VAR\n  D : TIME := 2;\nEND_VAR\nK1 := S1;")),
    ),
    # ---- Structured Text
    Slip(
        "equals-for-assign",
        "= compares; it does not write a value to {name}",
        "write := between {name} and its value",
        (_st("K1 = S1 AND S2;"), _st("VAR\n  T1 : TON;\nEND_VAR\nT1(IN = S1, PT := T#1s);")),
    ),
    Slip(
        "foreign-operator",
        "{text} is no operator here",
        "{cure}",
        (
            _st("K1 := S1 && S2;"),
            _st("K1 := S1 || S2;"),
            _st("K1 := !S1;"),
            _st("K1 == S1;"),
            _st("K1 := S1 == S2;"),
            _st("K1 := S1 | S2;"),
            _st("K1 := S1 + S2;"),
            _st("K1 := S1 * S2;"),
            _st("K1 := S1 = S2;"),
            _st("K1 := /S1;"),
        ),
    ),
    Slip(
        "semicolon-missing",
        "this statement does not end: a semicolon is missing after {after}",
        "write ; after {after}",
        (
            _st("K1 := S1"),
            _st("K1 := S1\nP1 := K1;"),
            _st("K1 := S1 P1 := K1;"),
            _st("VAR\n  T1 : TON;\nEND_VAR\nT1(IN := S1, PT := T#1s)\nK1 := T1.Q;"),
        ),
    ),
    Slip(
        "parenthesis-open",
        "this parenthesis is never closed",
        "write ) where it should end",
        (
            _st("K1 := S1 AND (S2 OR K1_A;"),
            _st("K1 := ((S1);"),
            _st("VAR\n  T1 : TON;\nEND_VAR\nT1(IN := S1, PT := T#1s;"),
        ),
    ),
    Slip(
        "parenthesis-extra",
        "this ) closes nothing",
        "take it out, or write the ( it belongs to",
        (_st("K1 := S1 AND S2);"), _st("K1 := (S1 OR S2)) AND S3;"), _st("K1 := S1; )")),
    ),
    Slip(
        "operand-missing",
        "{after} needs something on its {side}",
        "write a tag name there",
        (
            _st("K1 := S1 AND;"),
            _st("K1 := AND S1;"),
            _st("K1 := ;"),
            _st("K1 := S1 OR OR S2;"),
            _st("K1 := ();"),
            _st(":= S1;"),
        ),
    ),
    Slip(
        "operator-missing",
        "nothing says how {left} and {right} belong together",
        "write AND, OR or XOR between them",
        (_st("K1 := S1 (S2 OR S3);"), _st("K1 := S1 NOT S2;"), _st("K1 := (S1) S2;")),
    ),
    Slip(
        "statement-shape",
        "a statement writes one tag or calls one block; {found} does neither",
        "write for example K1 := S1; or T1(IN := S1, PT := T#200ms);",
        (_st("K1;"), _st("S1 AND S2;"), _st("IF S1 THEN K1 := TRUE; END_IF;")),
    ),
    Slip(
        "call-shape",
        "inside the call of {name} each pin is written as PIN := value; {found} does not fit",
        "write for example {name}({better})",
        (_st("VAR\n  T1 : TON;\nEND_VAR\nT1(S1, T#1s);"), _st("VAR\n  T1 : TON;\nEND_VAR\nT1(IN := S1 PT := T#1s);")),
    ),
    # ---- ladder text
    Slip(
        "ladder-is-st",
        "this looks like Structured Text, not like a rung",
        "start a rung with the left rail | or read the text as Structured Text",
        (_ladder("K1 := S1 AND S2;"),),
    ),
    Slip(
        "st-is-ladder",
        "this looks like a rung, not like Structured Text",
        "read the text as ladder, or write K1 := S1 AND S2;",
        (_st("|   S1     K1  |\n|--| |----( )--|"),),
    ),
    Slip(
        "rail-missing",
        "this wire does not start at the left rail",
        "start the line with the rail |, in the same column as the other lines",
        (
            _ladder("   S1     K1\n--| |----( )--|"),
            _ladder("|   S1     K1  |\n|--| |----( )--|\n   S2     P1\n  -| |----( )--|"),
        ),
    ),
    Slip(
        "contact-unnamed",
        "this {kind} has no name above it",
        "write its tag name in the line above, over the {kind}",
        (
            _ladder("|          K1  |\n|--| |----( )--|"),
            _ladder("|   S1         |\n|--| |----( )--|"),
            _ladder("|--| |----( )--|"),
        ),
    ),
    Slip(
        "name-inside",
        "{name} stands inside the {kind}",
        "write {name} in the line above and leave {shape} on the wire",
        (
            _ladder("|--|S1|----( )--|\n"),
            _ladder("|   S1           |\n|--| |-----(K1)--|"),
        ),
    ),
    Slip(
        "name-on-wire",
        "{name} stands on the wire",
        "draw a contact | | or a coil ( ) there, and write {name} in the line above it",
        (_ladder("|--S1-----( )--|"), _ladder("|   S1           |\n|--| |------K1---|")),
    ),
    Slip(
        "name-over-two",
        "the name {name} stands above two elements",
        "write one name above each, and make the wire between them longer",
        (
            _ladder("|     S1_OFF     K1  |\n|--| |-----| |---( )--|"),
            _ladder("|     START    K1  |\n|---| |--| |--( )--|"),
        ),
    ),
    Slip(
        "name-stray",
        "the name {name} stands above nothing",
        "move it over its contact or coil, or put it in a comment (* *)",
        (
            _ladder("|   S1                 S9   K1  |\n|--| |---------------------( )--|"),
            _ladder("|  S1     K1  |\n|--| |---( )--|\n   hello\n"),
        ),
    ),
    Slip(
        "symbol-unknown",
        "{symbol} is no {kind} of IEC 61131-3",
        "{cure}",
        (
            _ladder("|   S1     K1  |\n|--|X|----( )--|"),
            _ladder("|   S1     K1  |\n|--|\\|----( )--|"),
            _ladder("|   S1     K1  |\n|--| |----(L)--|"),
            _ladder("|   S1     K1  |\n|--| |----(U)--|"),
            _ladder("|   S1     K1  |\n|--||-----( )--|"),
        ),
    ),
    Slip(
        "coil-on-left-rail",
        "the coil {name} hangs directly on the left rail, without any condition",
        "put a contact before it; for a coil that is always on write a contact called TRUE",
        (_ladder("|           K1  |\n|----------( )--|"), _ladder("|   K1     S1   |\n|--( )----| |---|")),
    ),
    Slip(
        "coil-missing",
        "this rung has no coil, so it does nothing",
        "end it with a coil ( ) and the name of what it switches",
        (_ladder("|   S1    S2   |\n|--| |---| |---|"), _ladder("|   S1    S2\n|--| |---| |---")),
    ),
    Slip(
        "after-coil",
        "{name} stands right of a coil; a coil ends its branch",
        "move it left of the coil",
        (_ladder("|   S1     K1    S2  |\n|--| |----( )---| |--|"),),
    ),
    Slip(
        "branch-open",
        "this branch never closes",
        "lead it back to the wire with a + above or below another +, or to a coil",
        (
            _ladder(
                """
                |   S1        S2                K1   |
                |--| |---+---| |--------------( )----|
                |        |  K1_A                     |
                |        +---| |---+                 |
                """
            ),
            _ladder(
                """
                |   S1        S2                K1   |
                |--| |---+---| |---+----------( )----|
                |        |  K1_A                     |
                |        +---| |----                 |
                """
            ),
        ),
    ),
    Slip(
        "wire-nowhere",
        "this wire {how} nowhere",
        "join it to the next element, or take it out",
        (
            _ladder("|   S1         K1  |\n|--| |--    --( )--|"),
            _ladder(
                """
                |   S1        S2                K1   |
                |--| |---+---| |---+----------( )----|
                |           K1_A   |                 |
                |           -| |---+                 |
                """
            ),
        ),
    ),
    Slip(
        "crossing",
        "two wires cross here",
        "draw + where they are joined; if they are not, move the branch so that it does not cross",
        (
            _ladder(
                """
                |   S1         S2          K1   |
                |--| |----+---| |----+----( )---|
                |   S3    |   S4     |          |
                |--| |--------| |----+          |
                |         |   S5     |          |
                |         +---| |----+          |
                """
            ),
        ),
    ),
    Slip(
        "short",
        "a plain wire runs beside {name}, so {name} changes nothing",
        "draw an element in that branch, or take the branch out",
        (
            _ladder(
                """
                |   S1        S2              K1   |
                |--| |---+---| |---+---------( )---|
                |        |         |               |
                |        +---------+               |
                """
            ),
        ),
    ),
    Slip(
        "right-to-left",
        "power would have to run from right to left to reach {name}",
        "redraw the branch so that it opens on the left of its elements and closes on their right",
        (
            _ladder(
                """
                |   S1       S2             K1   |
                |--| |------| |-----+------( )---|
                |                   |            |
                |  +----------------+            |
                |  |  S3                    P1   |
                |  +-| |-------------------( )---|
                """
            ),
        ),
    ),
    Slip(
        "bridge",
        "{name} bridges two branches, and a rung is made of series and parallel parts only",
        "repeat the shared contact in a branch of its own, or give the shared part a rung and a memory bit",
        (
            _ladder(
                """
                |   S1         S2               K1   |
                |--| |----+---| |---------+----( )---|
                |         |   S3          |          |
                |         +---| |--+      |          |
                |   S4             |  S5  |          |
                |--| |-------------+--| |-+          |
                """
            ),
        ),
    ),
    Slip(
        "pin-network",
        "the pin {pin} of {name} takes its power from the middle of the rung",
        "start its network at the left rail, or write one tag name on the pin",
        (
            _ladder(
                """
                |                   C1            |
                |                +------+         |
                |   S1     S2    | CTU  |    K1   |
                |--| |--+--| |---|CU   Q|---( )---|
                |       +--------|R   CV|         |
                |             5--|PV    |         |
                |                +------+         |
                """
            ),
        ),
    ),
)

SLIPS: dict[str, Slip] = {row.code: row for row in _ROWS}
