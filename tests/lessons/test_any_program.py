"""Whatever program a student writes, marking gives a sheet with a reason in every line."""

from __future__ import annotations

from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from labkit.lessons import load_lesson, variant
from labkit.lessons._truth import Truth
from labkit.lessons.marking import mark_with

LESSON = load_lesson("seal-in")
VALE = variant(LESSON, "R. Vale")
NAMES = [VALE.names[role] for role in ("stop", "start", "feedback", "motor", "panel_stop", "lamp")] + ["BIT1", "T1.Q"]
WRITTEN = [VALE.names["motor"], VALE.names["lamp"], "BIT1", "BIT2"]

terms = st.recursive(
    st.sampled_from([*NAMES, "TRUE"]),
    lambda inner: (
        st.builds("({} AND {})".format, inner, inner)
        | st.builds("({} OR {})".format, inner, inner)
        | st.builds("NOT {}".format, inner)
        | st.builds("({} XOR {})".format, inner, inner)
    ),
    max_leaves=6,
)
statements = st.builds("{} := {};".format, st.sampled_from(WRITTEN), terms)


@st.composite
def programs(draw: Any) -> str:
    timer = draw(st.sampled_from(["TON", "TOF", "TP"]))
    call = f"T1(IN := {draw(terms)}, PT := T#{draw(st.integers(1, 900))}ms);"
    lines = draw(st.lists(statements, min_size=1, max_size=5))
    lines.insert(draw(st.integers(0, len(lines))), call)
    return "\n".join([f"VAR T1 : {timer}; END_VAR", *lines])


def _rung(names: list[str], kinds: list[str], coil: str, written: str) -> str:
    top = "".join(f"{name:^12}" for name in names) + f"{written:^12}"
    low = "".join(f"----|{kind}|-----" for kind in kinds) + f"----({coil})-----"
    return f"|{top}|\n|{low}|"


@st.composite
def ladders(draw: Any) -> str:
    rungs = []
    for _ in range(draw(st.integers(1, 4))):
        size = draw(st.integers(1, 4))
        names = draw(st.lists(st.sampled_from(NAMES[:-1]), min_size=size, max_size=size))
        kinds = draw(st.lists(st.sampled_from([" ", "/", "P", "N"]), min_size=size, max_size=size))
        rungs.append(_rung(names, kinds, draw(st.sampled_from(" /SRPN")), draw(st.sampled_from(WRITTEN))))
    return "\n".join(rungs)


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(programs() | ladders())
def test_every_program_gets_its_reasons(vale_truth: Truth, text: str) -> None:
    sheet = mark_with(vale_truth, {"hold": {"text": text}, "lamp": {"text": text}})
    for line in (*sheet.for_task("hold"), *sheet.for_task("lamp")):
        assert line.reason.strip().endswith(".")
        assert "None" not in line.reason
        assert "labkit" not in line.reason
        if line.evidence is not None:
            assert line.evidence.start_us < line.evidence.end_us
            assert line.evidence.signals
            assert all(line.evidence.start_us <= t <= line.evidence.end_us for t, _ in line.evidence.marks)
    assert sheet.to_html()
    assert sheet.to_json()
