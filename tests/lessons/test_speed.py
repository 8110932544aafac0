"""What the speed row works on is a real class, and a judgement from few signals is the one from all of them."""

from __future__ import annotations

from pathlib import Path

import pytest

from labkit.lessons import LessonSource, Variant, mark_files
from labkit.lessons._lab import Lab
from labkit.lessons._speed import write_class
from labkit.lessons._truth import Truth


def test_the_measured_class_gets_full_marks(tmp_path: Path, seal_in: LessonSource) -> None:
    outcomes = mark_files(write_class(tmp_path, seal_in, 3))
    assert len({o.sheet.bench for o in outcomes if o.sheet}) > 1
    assert [o.sheet.points for o in outcomes if o.sheet] == [o.sheet.out_of for o in outcomes if o.sheet]


@pytest.mark.parametrize("program", ["hold_auxiliary", "hold_output", "wrong_start_wins", "wrong_one_shot"])
def test_few_signals_judge_like_all(seal_in: LessonSource, vale: Variant, program: str) -> None:
    lab, other = Lab(seal_in, vale), Lab(seal_in, vale)
    truth = Truth(lab)
    for check in seal_in.file.checks:
        for more in list(lab.variations(check))[:2]:
            wanted = truth._signals(check.expect, more)
            if "{press}" in "".join(check.steps) and "press" not in more:
                continue
            few = lab.play(lab.program(program), check, more, only=wanted)
            whole = other.play(other.program(program), check, more)
            assert few.trace.signals.keys() == wanted | {"mode:A1"}
            assert all(few.trace.signals[name].changes == whole.trace.signals[name].changes for name in wanted)
            assert truth.broken(few, check.expect, more) == truth.broken(whole, check.expect, more)
