"""How fast a class is marked: hand-ins of the seal-in lesson a second, two processes sharing the work.

Every hand-in is an invented student's own variant with all answers right. As in any class, what equal benches show is
worked out once in a process: benches with the same times, under other names and with wires on other points. The
processes' start is counted.
"""

from __future__ import annotations

import statistics
import tempfile
import time
from pathlib import Path
from typing import Any

from labkit.lessons._files import LessonSource, load_lesson
from labkit.lessons.batch import mark_files
from labkit.lessons.handin import HandIn, dumps_handin
from labkit.lessons.key import model_answers
from labkit.lessons.variants import variant

__all__ = ["BOUNDS", "rows", "write_class"]

BOUNDS = {"handins_per_s": (5.0, 50.0)}
"""Key -> floor and aim."""

_LESSON = "seal-in"
_WORKERS = 2


def write_class(folder: Path, lesson: LessonSource, count: int) -> list[Path]:
    """Hand-ins of `count` invented students, every answer right."""
    paths = []
    for number in range(count):
        mine = variant(lesson, f"Student {number:02d}")
        handin = HandIn(
            lesson=lesson.id, edition=lesson.file.edition, student=mine.student, attempt=mine.attempt,
            seed=mine.seed, answers=model_answers(lesson, mine), log=(),
        )  # fmt: skip
        path = folder / f"{number:02d}.json"
        path.write_text(dumps_handin(handin), encoding="utf-8")
        paths.append(path)
    return paths


def rows(quick: bool = False) -> list[dict[str, Any]]:
    """The measured row.

    Raises
    ------
    RuntimeError
        If a hand-in does not get full marks: then something else was measured.
    """
    rates = []
    with tempfile.TemporaryDirectory() as folder:
        paths = write_class(Path(folder), load_lesson(_LESSON), 16 if quick else 60)
        for _ in range(1 if quick else 3):
            start = time.perf_counter()
            outcomes = mark_files(paths, workers=_WORKERS)
            rates.append(len(paths) / (time.perf_counter() - start))
            if any(o.sheet is None or o.sheet.points != o.sheet.out_of for o in outcomes):
                raise RuntimeError("a model answer did not get full marks")
    floor, aim = BOUNDS["handins_per_s"]
    return [
        {
            "key": "handins_per_s",
            "ratio": statistics.median(rates),
            "floor": floor,
            "aim": aim,
            "ours": f"{len(paths)} hand-ins",
            "other": "1 s",
            "note": f"the {_LESSON} lesson, all answers right; {_WORKERS} processes, their start included",
        }
    ]
