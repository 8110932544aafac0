"""Write the example hand-ins anew after a new edition of a lesson: ``python tests/lessons/renew_handins.py``.

Each is what its name says. The hostile texts are kept as they are; only what belongs to the variant is renewed.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from labkit.lessons import HandIn, dumps_handin, load_lesson, model_answers, variant, wrong_answer
from labkit.lessons._lab import Lab

FOLDER = Path(__file__).resolve().parents[2] / "datasets" / "handins"
LESSON = load_lesson("seal-in")


def _program(task: str, key: str) -> Callable[[dict[str, Any], Lab], None]:
    def change(answers: dict[str, Any], lab: Lab) -> None:
        answers[task] = {"text": lab.program_text(key)}

    return change


def _hostile(answers: dict[str, Any], _lab: Lab) -> None:
    kept = json.loads((FOLDER / "seal-in--hostile-program.json").read_text("utf-8"))["answers"]
    answers |= {task: kept[task] for task in ("hold", "panel", "lamp")}


def _nothing(_answers: dict[str, Any], _lab: Lab) -> None:
    pass


EXAMPLES: dict[str, tuple[str, Callable[[dict[str, Any], Lab], None]]] = {
    "full-marks": ("T. Fern", _nothing),
    "hostile-program": ("M. Heath", _hostile),
    "lamp-shows-command": ("P. Quill", _program("lamp", "wrong_lamp_command")),
    "panel-unchanged": ("B. Rowan", _program("panel", "panel_given")),
    "stop-does-nothing": ("Ada Moss", _program("hold", "wrong_seal_spans_stop")),
}


def _write(name: str, handin: HandIn) -> None:
    (FOLDER / f"seal-in--{name}.json").write_text(dumps_handin(handin), encoding="utf-8")


def _log(name: str) -> tuple[Any, ...]:
    return tuple(json.loads((FOLDER / f"seal-in--{name}.json").read_text("utf-8"))["log"])


def _handin(student: str, answers: dict[str, Any], log: tuple[Any, ...], seed: str = "") -> HandIn:
    mine = variant(LESSON, student)
    return HandIn(
        lesson=LESSON.id, edition=LESSON.file.edition, student=student, attempt=1, seed=seed or mine.seed,
        answers=answers, log=log,
    )  # fmt: skip


# the hunts: the listed wrong answers that take the place of right ones
HUNTS: dict[str, tuple[str, ...]] = {
    "full-marks": (),
    "guessed": ("input-guess", "output-guess", "never-guess"),
    "ohms-on-live": ("input-live",),
}


def _hunts() -> None:
    source = load_lesson("wiring-hunt")
    mine = variant(source, "T. Fern")
    right = model_answers(source, mine)
    for name, wrong_ids in HUNTS.items():
        answers = dict(right)
        for wrong in source.file.wrong:
            if wrong.id in wrong_ids:
                answers[wrong.task] = wrong_answer(source, mine, wrong)
        handin = HandIn(
            lesson=source.id,
            edition=source.file.edition,
            student=mine.student,
            attempt=1,
            seed=mine.seed,
            answers=answers,
        )
        (FOLDER / f"wiring-hunt--{name}.json").write_text(dumps_handin(handin), encoding="utf-8")


def main() -> None:
    """Write them all."""
    _hunts()
    for name, (student, change) in EXAMPLES.items():
        mine = variant(LESSON, student)
        answers = model_answers(LESSON, mine)
        change(answers, Lab(LESSON, mine))
        _write(name, _handin(student, answers, _log(name)))
    _write("blank", _handin("L. Thorn", {}, ()))
    other = variant(LESSON, "N. Brook")
    _write("changed-name", _handin("O. Birch", model_answers(LESSON, other), _log("changed-name"), other.seed))
    whole = (FOLDER / "seal-in--full-marks.json").read_text("utf-8").splitlines(keepends=True)
    (FOLDER / "seal-in--torn.json").write_text("".join(whole[:54]) + whole[54][:11], encoding="utf-8")


if __name__ == "__main__":
    main()
