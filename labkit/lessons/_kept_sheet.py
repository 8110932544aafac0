"""A student's answer sheet: what stands on it, and the file in which it outlives a restart of the kernel."""

from __future__ import annotations

import sys
from collections.abc import Callable, Container
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

from labkit.base import LabkitError
from labkit.lessons._document import HuntTask, Task
from labkit.lessons._forms import tidy_log
from labkit.lessons._keeping import OwnFile, fitting, lost_in, set_aside
from labkit.lessons._lab import Lab
from labkit.lessons.answers import tidy_for
from labkit.lessons.errors import AnswerError, HandInError, LessonError
from labkit.lessons.handin import HandIn, handin_name

__all__ = ["KeptSheet", "Log"]

Log = list[dict[str, Any]]
"""A bench's log in its plain form."""


class KeptSheet:
    """What a student has answered so far, kept in a folder if there is one.

    Parameters
    ----------
    lab
        The bench of the variant, which says what can be an answer.
    whose
        A hand-in of this student's with nothing in it.
    folder
        Where the sheet is kept; None keeps it nowhere.

    Notes
    -----
    Several kernels may have the same sheet open. Each writes what was changed in it, and takes the rest as it finds it.
    """

    def __init__(self, lab: Lab, whose: HandIn, folder: str | Path | None) -> None:
        self.answers: dict[str, Any] = {}
        self.hints: dict[str, int] = {}
        self.searches: dict[str, Log] = {}
        """The logs of the hunts as they were last kept or handed over."""
        self.log_before: tuple[Any, ...] = ()
        self.notices: list[str] = []
        self._lab = lab
        self._whose = whose
        self._handed_in: dict[Path, OwnFile] = {}
        self._changed: set[str] = set()  # tasks whose state here is newer than the kept one
        self._file: OwnFile | None = None
        if folder is not None:  # not .json: nobody marks a sheet that was not handed in
            self._file = OwnFile(Path(folder) / f"{Path(handin_name(whose)).stem}.sheet", whose)
            if self._take_up(first=True):
                self._file.write(fitting(self._kept(self._now())))

    @property
    def is_kept(self) -> bool:
        """Whether there is a file."""
        return self._file is not None

    def tell(self, sentence: str) -> None:
        """Say a sentence that the student should see whatever cell runs; once."""
        if sentence not in self.notices:
            self.notices.append(sentence)
            print(sentence, file=sys.stderr)

    # keeping --------------------------------------------------------------------------------------
    def keep(self, task_id: str, now: Callable[[], HandIn], open_hunts: Container[str]) -> None:
        """Write the sheet down after something was changed in a task.

        Parameters
        ----------
        task_id
            The task.
        now
            Gives what would be handed in now.
        open_hunts
            Hunts whose log here is the newer one.

        Raises
        ------
        LabkitError
            If it cannot be written.
        """
        if self._file is None:
            return
        self._changed.add(task_id)
        if self._file.changed:
            self._take_up(open_hunts)
        self._file.write(fitting(self._kept(now())))
        self._changed.clear()

    def _now(self) -> HandIn:
        return replace(self._whose, answers=self.answers, hints=self.hints, log=self.log_before)

    def _kept(self, handin: HandIn) -> HandIn:
        """A hand-in with what was done in the hunts since they were handed over."""
        hunts = {}
        for task, log in self.searches.items():
            handed = self.answers.get(task, {}).get("log", [])
            after = len(handed) if log[: len(handed)] == handed else 0
            if log[after:]:
                hunts[task] = {"after": after, "log": log[after:]}
        return replace(handin, hunts=hunts)

    def set_aside(self, file: OwnFile, what: str, word: str) -> None:
        """Give a file another name, and say so."""
        aside = set_aside(file.path, word)
        self.tell(f"{what}. It is kept as {aside.name}: show it to whoever marks this.")

    def forget(self, task_id: str, why: str) -> None:
        """A search that was kept cannot be played: it is kept beside, and begins anew."""
        self.searches.pop(task_id, None)
        self.answers.pop(task_id, None)
        if self._file is not None and self._file.path.exists():
            self.set_aside(self._file, f"The log that was kept of {task_id} cannot be played: {why}", "damaged")
            self._file.write(fitting(self._kept(self._now())))

    # taking up ------------------------------------------------------------------------------------
    def _take_up(self, open_hunts: Container[str] = (), *, first: bool = False) -> bool:
        """Take what was kept, but for what is newer here; whether a file was set aside for it."""
        file = self._file
        assert file is not None
        kept: HandIn | None = None
        aside = False
        try:
            kept = file.read()
        except HandInError as exc:
            self.set_aside(file, f"{file.path.name}, which kept your answers, cannot be used: {exc.what}", "damaged")
            aside = True
            if first:  # what was handed in is better than nothing
                with suppress(HandInError):
                    kept = OwnFile(file.path.with_suffix(".json"), self._whose).read()
        if kept is None:
            return aside
        tasks = {task.id: task for task in self._lab.lesson.tasks}
        left_off = [task for task in {**kept.answers, **kept.hunts} if task not in tasks]
        for task in tasks.values():
            if task.id not in self._changed and not self._take(task, kept, log=task.id not in open_hunts):
                left_off.append(task.id)
        for task_id in tasks.keys() & kept.hints.keys():
            self.hints[task_id] = max(kept.hints[task_id], self.hints.get(task_id, 0))
        if first:
            self.log_before = kept.log
        if left_off and not aside:
            what = f"{file.path.name} has answers that this edition of the lesson cannot take: {', '.join(left_off)}"
            self.set_aside(file, what, "earlier")
            aside = True
        return aside

    def _take(self, task: Task, kept: HandIn, *, log: bool) -> bool:
        """Take what was kept of one task; whether all of it can be taken."""
        fits = True
        self.answers.pop(task.id, None)
        if task.id in kept.answers:
            try:
                self.answers[task.id] = tidy_for(self._lab, task, kept.answers[task.id])
            except AnswerError:
                fits = False
        if log and isinstance(task, HuntTask):
            more = kept.hunts.get(task.id, {"after": 0, "log": ()})
            handed = self.answers.get(task.id, {}).get("log", [])
            try:
                self.searches[task.id] = tidy_log([*handed[: more["after"]], *more["log"]]) if more["log"] else handed
            except AnswerError:
                return False
            fits = fits and len(handed) >= more["after"]
        return fits

    # handing in -----------------------------------------------------------------------------------
    def hand_in(self, folder: str | Path, handin: HandIn) -> Path:
        """Write a hand-in; an earlier file that cannot be used, or has more than this one, is kept beside.

        Raises
        ------
        LabkitError
            If it is empty and the earlier one is not, or nothing can be written there.
        """
        path = Path(folder).resolve() / handin_name(handin)
        file = self._handed_in.setdefault(path, OwnFile(path, handin))
        if file.changed:  # not what was handed in from here
            self._make_room(file, handin)
        return Path(folder) / file.write(handin).name

    def _make_room(self, file: OwnFile, handin: HandIn) -> None:
        try:
            earlier = OwnFile(file.path, self._whose).read()  # another's until something is written over it
        except HandInError as exc:
            self.set_aside(file, f"The earlier {file.path.name} cannot be used: {exc.what}", "damaged")
            return
        if earlier is None:
            return
        if earlier.answers and not handin.answers:
            raise LessonError(
                f"nothing is answered here, and {file.path.name} has your answers already: it stays as it is",
                try_this="answer something first, or move that file away if you mean to hand in an empty sheet",
                code="lesson-hand-in-empty",
            )
        more = lost_in(earlier, handin)
        if more:
            self.set_aside(file, f"The earlier {file.path.name} has more in {', '.join(more)} than this one", "earlier")


def keep_step(sheet: KeptSheet, task_id: str, keep: Callable[[str], None]) -> None:
    """Keep a step of a hunt; what cannot be kept must not stop the hand that works the bench."""
    try:
        keep(task_id)
    except LabkitError as exc:
        sheet.tell(f"What you do in {task_id} from here on is not kept over a restart: {exc.what}.")
