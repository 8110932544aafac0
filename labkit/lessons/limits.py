"""Every bound on what a student or a stranger may hand in, each with the sentence they see.

Refusing early keeps marking fast and a class's marking alive: one file of a hundred megabytes, or a
program of ten thousand rungs, costs one clear line. The numbers are generous for a real answer (the
largest model answer is under 2 kB of program) and were chosen by that alone.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["LIMITS", "Limit", "Limits"]


@dataclass(frozen=True, slots=True)
class Limit:
    """A largest value, and what to say when it is passed (``{got}`` and ``{limit}`` are filled in)."""

    value: int
    sentence: str

    def says(self, got: object = "") -> str:
        """The sentence for a value that passed the bound."""
        return self.sentence.format(got=got, limit=self.value)


@dataclass(frozen=True, slots=True)
class Limits:
    """All bounds of this room."""

    file_bytes: Limit = Limit(512_000, "the file holds more than {limit} bytes; a hand-in is a few thousand")
    depth: Limit = Limit(12, "the document is nested deeper than {limit} levels")
    digits: Limit = Limit(15, "a number has more than {limit} digits")
    name_chars: Limit = Limit(80, "the name is {got} characters long; at most {limit} are kept")
    word_chars: Limit = Limit(200, "the word is {got} characters long; at most {limit} are read")
    answers: Limit = Limit(200, "the hand-in answers {got} tasks; at most {limit} are read")
    cells: Limit = Limit(400, "the table has {got} cells; at most {limit} are read")
    program_chars: Limit = Limit(20_000, "the program is {got} characters long; at most {limit} are read")
    program_lines: Limit = Limit(600, "the program has {got} lines; at most {limit} are read")
    line_chars: Limit = Limit(400, "a line of the program is {got} characters long; at most {limit} are read")
    rungs: Limit = Limit(60, "the program has {got} rungs; at most {limit} are judged")
    operations: Limit = Limit(2_000, "the program lowers to {got} operations; at most {limit} are judged")
    blocks: Limit = Limit(60, "the program has {got} function blocks; at most {limit} are judged")
    parens: Limit = Limit(40, "brackets are nested {got} deep; at most {limit} levels are read")
    log_entries: Limit = Limit(2_000, "the log has {got} entries; at most {limit} are kept")
    wires: Limit = Limit(400, "the wiring has {got} wires; at most {limit} are read")
    rows: Limit = Limit(200, "the sheet has {got} rows; at most {limit} are read")
    answer_log: Limit = Limit(800, "the log of this answer has {got} entries; at most {limit} are read")
    hunt_readings: Limit = Limit(120, "the log of this hunt has {got} readings; at most {limit} are judged")
    hunt_changes: Limit = Limit(80, "the log of this hunt changes the board {got} times; at most {limit} are judged")
    log_words: Limit = Limit(12, "an entry of the log has {got} words; at most {limit} are read")
    log_idle_s: Limit = Limit(10, "a pause in a log counts as {limit} s at the most")
    attempts: Limit = Limit(99, "attempt {got} is not between 1 and {limit}")


LIMITS = Limits()
