"""The cell magics and errors without tracebacks, in a real IPython shell."""

from __future__ import annotations

import base64

import pytest
from IPython.core.interactiveshell import InteractiveShell

from labkit.base import LabkitError
from labkit.notebook.magics import NotYet, load_ipython_extension, unload_ipython_extension

LADDER = """
|   S1        S2                K1   |
|--| |---+---| |---+-----------( )---|
|        |  K1_A   |                 |
|        +---| |---+                 |
"""


@pytest.fixture
def shell():
    made = InteractiveShell()
    load_ipython_extension(made)
    yield made
    unload_ipython_extension(made)


def test_a_good_ladder_becomes_a_program_and_a_picture(shell, monkeypatch):
    shown = []
    monkeypatch.setattr("labkit.notebook.magics.display", shown.append)
    shell.run_cell(f"%%ladder hold\n{LADDER}")
    program = shell.user_ns["hold"]
    assert list(program.variables()) == ["S1", "S2", "K1_A", "K1"]
    picture = shown[0]._repr_html_()
    assert picture.startswith("<img alt=")
    svg = base64.b64decode(picture.split("base64,")[1].split('"')[0]).decode()
    assert "K1_A" in svg
    assert repr(shown[0]) == "hold: 1 rung"


def test_structured_text_becomes_a_program(shell):
    shell.run_cell("%%st hold --quiet\nK1 := S1 AND (S2 OR K1_A);")
    assert shell.user_ns["hold"].language == "st"


def test_a_slip_is_told_with_its_place_and_no_traceback(shell, capsys):
    shell.run_cell("%%st hold\nK1 = S1;")
    out = capsys.readouterr().out
    assert "Traceback" not in out
    assert "^" in out
    assert "line 2," in out  # as the cell counts: %%st is its first line
    assert "try:" in out
    assert isinstance(shell.user_ns["hold"], NotYet)


def test_who_uses_a_program_with_a_slip_is_told_the_slip_again(shell):
    shell.run_cell("%%st hold\nK1 = S1;")
    with pytest.raises(LabkitError, match="hold is not a program yet"):
        _ = shell.user_ns["hold"].rungs
    assert repr(shell.user_ns["hold"]).startswith("hold is not a program yet")


def test_a_labkit_error_in_a_cell_is_shown_without_a_traceback(shell, capsys):
    result = shell.run_cell(
        "from labkit.base import LabkitError\n"
        "raise LabkitError('K1 has no terminal 15', where='K1:15', try_this='Did you mean K1:14?')"
    )
    assert isinstance(result.error_in_exec, LabkitError)
    assert capsys.readouterr().out == "K1 has no terminal 15\n  where: K1:15\n  try:   Did you mean K1:14?\n"


def test_any_other_error_keeps_its_traceback(shell, capsys):
    shell.run_cell("1 / 0")
    assert "ZeroDivisionError" in capsys.readouterr().out


def test_a_name_that_is_no_name_is_refused(shell, capsys):
    shell.run_cell("%%st 2fast\nK1 := S1;")
    assert "cannot be the name" in capsys.readouterr().out
