"""Lessons: a file of tasks, a variant for each student, an answer sheet, and marks with reasons.

A lesson is data. A student's variant follows from the name and the attempt; what is true in it is found on
its bench when it is needed, and stored nowhere. Marking is a pure function from data to a mark sheet: nothing
that a student wrote is ever run as code, and one bad hand-in costs one line.

The room must not know widgets, notebooks or the command line. Start with :func:`lesson` (a student's copy),
:func:`mark_files` (a class's hand-ins) and :func:`load_lesson` (the document itself).
"""

from labkit.lessons._files import LessonSource, load_lesson, loads_lesson, shipped_lessons
from labkit.lessons._html import class_html
from labkit.lessons._views import Feedback, Progress, RowView, TaskView
from labkit.lessons.answers import tidy_answer
from labkit.lessons.batch import Outcome, exit_code, find_handins, mark_file, mark_files
from labkit.lessons.errors import AnswerError, HandInError, LessonError, MarkBookError, one_line
from labkit.lessons.handin import HandIn, dumps_handin, handin_name, loads_handin, read_handin
from labkit.lessons.key import hidden_faults, hunted_faults, model_answers, wrong_answer
from labkit.lessons.limits import LIMITS, Limit, Limits
from labkit.lessons.markbook import BookRow, MarkBook
from labkit.lessons.marking import mark
from labkit.lessons.session import Lesson, lesson
from labkit.lessons.sheet import Evidence, MarkLine, MarkSheet
from labkit.lessons.variants import Cell, Variant, variant

__all__ = [
    # a student's copy
    "Feedback",
    "Lesson",
    "Progress",
    "RowView",
    "TaskView",
    "lesson",
    # the document
    "LessonSource",
    "load_lesson",
    "loads_lesson",
    "shipped_lessons",
    # variants and the key
    "Cell",
    "Variant",
    "hidden_faults",
    "hunted_faults",
    "model_answers",
    "variant",
    "wrong_answer",
    # answers and hand-ins
    "HandIn",
    "dumps_handin",
    "handin_name",
    "loads_handin",
    "read_handin",
    "tidy_answer",
    # marking
    "Evidence",
    "MarkLine",
    "MarkSheet",
    "mark",
    # a class
    "BookRow",
    "MarkBook",
    "Outcome",
    "class_html",
    "exit_code",
    "find_handins",
    "mark_file",
    "mark_files",
    # bounds
    "LIMITS",
    "Limit",
    "Limits",
    # errors
    "AnswerError",
    "HandInError",
    "LessonError",
    "MarkBookError",
    "one_line",
]
