"""The circuits of motor control: each right form holds, each wrong form breaks exactly what it was worked out to break.

Equations: textbook control circuits in our own words (see tests/truth/SOURCES.md). The set of requirements that a
wrong form breaks was written down before it was proved, from the rung and the scan, by hand.
"""

from __future__ import annotations

import pytest
from verify_circuits import Circuit, circuits

CIRCUITS = circuits()
FORMS = [(c, f) for c in CIRCUITS for f in c.forms.values()]


@pytest.mark.parametrize(("circuit", "form"), FORMS, ids=lambda x: x.file if isinstance(x, Circuit) else x.id)
def test_breaks_exactly_what_it_should(circuit, form):
    fails = []
    for asked in circuit.asks(form):
        verdict = circuit.verdict(form, asked)
        assert verdict.outcome != "undecided", asked.id
        assert form.fails or not verdict.empty, asked.id
        if verdict.outcome == "fails":
            fails.append(asked.id)
            assert verdict.story is not None
            assert verdict.story.text
            # on a board the story was done on a real bench, and came to the same end
            assert verdict.story.replayed is (None if circuit.board == "none" else True), asked.id
    assert sorted(fails) == sorted(form.fails)


def test_every_circuit_has_a_right_form_and_a_wrong_one():
    assert CIRCUITS
    for circuit in CIRCUITS:
        broken = {name for form in circuit.forms.values() for name in form.fails}
        assert broken <= set(circuit.requirements), circuit.file
        assert circuit.file == "c02a-ways-to-hold" or any(not f.fails for f in circuit.forms.values()), circuit.file
        assert any(f.fails for f in circuit.forms.values()), circuit.file


def test_no_requirement_is_idle():
    """Each requirement of a circuit is broken by some wrong form, or it would catch nothing."""
    idle = [
        (circuit.file, name)
        for circuit in CIRCUITS
        for name in circuit.requirements
        if not any(name in form.fails for form in circuit.forms.values())
    ]
    assert idle == []
