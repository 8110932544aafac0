"""The form of answers that come from a bench: wirings, sheets, drills, hunts. As plain data, within bounds.

What a stranger wrote is only copied piece by piece into plain values here; nothing of it is played.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from typing import Any

from labkit.base import LabkitError, did_you_mean
from labkit.bench import Bench, Done
from labkit.board import Wire, Wiring, loads_wiring, loads_wiring_csv
from labkit.lessons._document import DrillTask, RowsTask, SheetTask
from labkit.lessons._looks import OL
from labkit.lessons._setups import Row
from labkit.lessons.errors import AnswerError
from labkit.lessons.limits import LIMITS

__all__ = [
    "done_of",
    "log_of",
    "searched",
    "tidy_drill",
    "tidy_hunt",
    "tidy_log",
    "tidy_sheet",
    "tidy_wiring",
    "wires_of",
]

_WIRE_KEYS = ("no", "a", "b", "colour", "mm2", "m", "ferrule")
_BLOCK = re.compile(r"off|parked|seated(?: on [A-Za-z0-9.]{1,20})?")
_CHANGES = frozenset({"join", "unjoin", "joint", "lift", "land", "wire", "unwire", "rewire", "remove", "fit"}) | {
    *("park", "pull", "seat", "uncode", "swap", "repair")
}
_NAME_CHARS = 60  # the longest terminal of a shipped board has 8
_DAY_MS = 24 * 3600 * 1000


def _refuse(what: str, try_this: str = "", code: str = "answer-form") -> AnswerError:
    return AnswerError(what, try_this=try_this, code=code)


def _number(value: Any, what: str, most: float = 1e9) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value) or abs(value) > most:
        raise _refuse(
            f"{what} is not a number that can be read: {str(value)[:40]!r}", "write e.g. 23.98", "answer-number"
        )
    number = float(value)  # a meter's reading is a float with more to it
    return int(number) if number.is_integer() else number


def _word(value: Any, what: str, most: int = _NAME_CHARS) -> str:
    if isinstance(value, int) and not isinstance(value, bool):
        value = str(value)
    if not isinstance(value, str) or not value.strip() or not value.isprintable():
        raise _refuse(f"{what} is not a word: {str(value)[:40]!r}", code="answer-word")
    if len(value) > most:
        raise _refuse(f"{what} is {len(value)} characters long; at most {most} are read", code="answer-word")
    return value.strip()


# wirings ------------------------------------------------------------------------------------------
def tidy_wiring(value: Any) -> dict[str, Any]:
    """Wires as a list of dicts, and the log where the wiring is a bench's."""
    if isinstance(value, Bench):
        tidy: dict[str, Any] = {"wires": _wires(value.wiring), "log": log_of(value.log)}
        return tidy | ({"blocks": _seats(value)} if value.blocks else {})
    if isinstance(value, Mapping):
        extra = [key for key in value if key not in ("wires", "log", "blocks")]
        if extra or "wires" not in value:
            raise _refuse("a wiring answer holds its wires", 'give {"wires": [...]} or your bench', "answer-wiring")
        tidy = {"wires": _wires(value["wires"])}
        if value.get("log") is not None:
            tidy["log"] = tidy_log(value["log"])
        if value.get("blocks") is not None:
            tidy["blocks"] = _blocks(value["blocks"])
        return tidy
    return {"wires": _wires(value)}


def _wires(value: Any) -> list[dict[str, Any]]:
    if isinstance(value, str):
        value = _read_wiring(value)
    if isinstance(value, Wiring):
        value = [{key: getattr(wire, key) for key in _WIRE_KEYS} for wire in value]
    if not isinstance(value, list | tuple):
        raise _refuse(
            "a wiring is a bench, a list of wires, or a wire list as text",
            'give bench, or text "no,a,b"',
            "answer-wiring",
        )
    if len(value) > LIMITS.wires.value:
        raise _refuse(LIMITS.wires.says(len(value)), code="answer-wiring-size")
    return [_wire(row, number) for number, row in enumerate(value, 1)]


def _read_wiring(text: str) -> Wiring:
    if len(text) > LIMITS.wires.value * 200:
        raise _refuse(f"the wire list is {len(text)} characters long", code="answer-wiring-size")
    try:
        return loads_wiring(text) if "[[wires]]" in text or "wires =" in text else loads_wiring_csv(text)
    except LabkitError as exc:
        raise _refuse(f"the wire list cannot be read: {exc.what}", exc.try_this, "answer-wiring") from None


def _wire(row: Any, number: int) -> dict[str, Any]:
    what = f"wire {number} of the list"
    if not isinstance(row, Mapping):
        raise _refuse(f"{what} is not a wire", 'a wire is {"no": "122", "a": "X1:24I", "b": "S2:13"}', "answer-wiring")
    extra = [key for key in row if key not in _WIRE_KEYS]
    missing = [key for key in ("no", "a", "b") if key not in row]
    if extra or missing:
        said = f"has no {missing[0]!r}" if missing else f"has {str(extra[0])[:40]!r}, which no wire has"
        raise _refuse(f"{what} {said}", did_you_mean(str(extra[0])[:40], _WIRE_KEYS) if extra else "", "answer-wiring")
    ferrule = row.get("ferrule", True)
    if not isinstance(ferrule, bool):
        raise _refuse(f"ferrule of {what} is true or false", code="answer-wiring")
    tidy: dict[str, Any] = {key: _word(row[key], f"{key} of {what}") for key in ("no", "a", "b")}
    tidy["colour"] = _word(row.get("colour", "BU"), f"colour of {what}", 8)
    for key, usual, most in (("mm2", 0.75, 10.0), ("m", 0.9, 1000.0)):
        tidy[key] = _number(row.get(key, usual), f"{key} of {what}", most)
        if tidy[key] <= 0:
            raise _refuse(f"{key} of {what} is above 0, not {tidy[key]:g}", code="answer-number")
    return tidy | {"ferrule": ferrule}


def _blocks(value: Any) -> dict[str, str]:
    if not isinstance(value, Mapping) or len(value) > LIMITS.rows.value:
        raise _refuse("blocks are a table: block to off, parked or seated", code="answer-wiring")
    tidy = {_word(key, "a block"): _word(state, "the position of a block") for key, state in value.items()}
    for block, state in tidy.items():
        if not _BLOCK.fullmatch(state):
            raise _refuse(f"block {block} is off, parked or seated, not {state[:40]!r}", code="answer-wiring")
    return tidy


def _seats(bench: Bench) -> dict[str, str]:
    """Where each block is; one on another's header says on which."""
    on = {block: bench.seated_on(block) for block in bench.blocks}
    return {b: f"seated on {on[b]}" if on[b] not in ("", b) else state for b, state in bench.blocks.items()}


def wires_of(tidy: Mapping[str, Any]) -> Wiring:
    """The wires of a tidy answer, as they are listed; nothing is checked."""
    return Wiring(tuple(Wire(**row) for row in tidy["wires"]))


# logs ---------------------------------------------------------------------------------------------
def log_of(log: Iterable[Done]) -> list[dict[str, Any]]:
    """A bench's log as plain data.

    Raises
    ------
    AnswerError
        If there is more than can be handed in.
    """
    return tidy_log(
        [{"at_ms": done.t_us / 1000, "do": done.do, **{k: _short(v) for k, v in done.what.items()}} for done in log]
    )


def _short(value: Any) -> Any:
    """A word of a log as it can be handed in: a long note is cut, for the rest of the log must not be lost with it."""
    if value is not None and not isinstance(value, bool | int | float | str | list | tuple):
        value = str(value)
    most = LIMITS.word_chars.value
    return value[: most - 1] + "\u2026" if isinstance(value, str) and len(value) > most else value


def tidy_log(value: Any) -> list[dict[str, Any]]:
    """A log as a hand-in holds it: times that do not fall, words and numbers only."""
    if not isinstance(value, list | tuple):
        raise _refuse("a log is a list of entries", code="answer-log")
    if len(value) > LIMITS.answer_log.value:
        raise _refuse(LIMITS.answer_log.says(len(value)), "take a fresh bench and work on that", "answer-log")
    tidy, before = [], 0.0
    for number, row in enumerate(value):
        what = f"entry {number} of the log"
        if not isinstance(row, Mapping) or not {"at_ms", "do"} <= set(row):
            raise _refuse(f"{what} is not one: it has at_ms and do", code="answer-log")
        if len(row) > LIMITS.log_words.value:
            raise _refuse(LIMITS.log_words.says(len(row)), code="answer-log")
        at = _number(row["at_ms"], f"at_ms of {what}", _DAY_MS)
        if at < before:
            raise _refuse(f"{what} comes before the one above it", code="answer-log")
        before = at
        do = _word(row["do"], f"do of {what}", 20)
        rest = {_word(k, "a word of the log", 20): _scalar(v, what) for k, v in row.items() if k not in ("at_ms", "do")}
        tidy.append({"at_ms": at, "do": do, **rest})
    return tidy


def _scalar(value: Any, what: str, deep: int = 2) -> Any:
    """A word, a number or nothing; a list of wires is a list of lists."""
    if value is None or isinstance(value, bool):
        return value
    if isinstance(value, int | float):
        return _number(value, f"a value in {what}")
    if isinstance(value, str):
        if len(value) > LIMITS.word_chars.value:
            raise _refuse(LIMITS.word_chars.says(len(value)), code="answer-log")
        return value
    if isinstance(value, list | tuple) and deep and len(value) <= LIMITS.wires.value:
        return [_scalar(one, what, deep - 1) for one in value]
    raise _refuse(f"{what} holds something that no log has", code="answer-log")


def done_of(log: Iterable[Mapping[str, Any]], start_us: int = 0) -> list[Done]:
    """A tidy log with its times, for replaying: long pauses are cut, and it begins at `start_us` or later."""
    found: list[Done] = []
    most = LIMITS.log_idle_s.value * 1_000_000
    before: int | None = None
    now = start_us
    for row in log:
        at = round(row["at_ms"] * 1000)
        now += min(most, max(0, at - (start_us if before is None else before)))
        before = at
        found.append(Done(now, row["do"], {k: v for k, v in row.items() if k not in ("at_ms", "do")}))
    return found


# sheets and drills --------------------------------------------------------------------------------
def tidy_sheet(task: SheetTask, rows: Mapping[str, Row], words: Mapping[str, tuple[str, ...]], value: Any) -> Any:
    """What was read in each row; `rows` are the task's with this variant's places, `words` what may be chosen."""
    if isinstance(value, Bench):
        value = _from_log(rows, value.log)
    tidy: dict[str, dict[str, Any]] = {}
    for key, given in _rows(task, value).items():
        entry = given if isinstance(given, Mapping) else {"value": given}
        _only(entry, ("value", "at_ms"), f"row {key}")
        if entry.get("value") in (None, ""):
            continue
        tidy[key] = {"value": _said(rows[key], words[key], entry["value"], f"row {key}")}
        if entry.get("at_ms") is not None:
            tidy[key]["at_ms"] = _number(entry["at_ms"], f"at_ms of row {key}", 10 * 365 * _DAY_MS)
    return {key: tidy[key] for key in rows if key in tidy}


def tidy_drill(task: DrillTask, rows: Mapping[str, Row], words: Mapping[str, tuple[str, ...]], value: Any) -> Any:
    """What was predicted and what was read in each row."""
    tidy: dict[str, dict[str, Any]] = {}
    for key, entry in _rows(task, value).items():
        if not isinstance(entry, Mapping):
            raise _refuse(f"row {key} is not a pair", '{"predicted": 24, "read": 23.98}', "answer-drill")
        _only(entry, ("predicted", "read"), f"row {key}")
        said = {
            part: _said(rows[key], words[key], entry[part], f"{part} of row {key}")
            for part in ("predicted", "read")
            if entry.get(part) not in (None, "")
        }
        if said:
            tidy[key] = said
    return {key: tidy[key] for key in rows if key in tidy}


def _rows(task: RowsTask, value: Any) -> dict[str, Any]:
    if not isinstance(value, Mapping):
        raise _refuse("this is answered with a dict of rows", 'write e.g. {"row": 23.98}', "answer-table")
    if len(value) > LIMITS.rows.value:
        raise _refuse(LIMITS.rows.says(len(value)), code="answer-table-size")
    ids = [row.id for row in task.rows]
    for key in value:
        if not isinstance(key, str) or key not in ids:
            raise _refuse(f"there is no row {str(key)[:60]!r}", did_you_mean(str(key)[:60], ids), "answer-row")
    return dict(value)


def _only(entry: Mapping[Any, Any], known: tuple[str, ...], what: str) -> None:
    for key in entry:
        if key not in known:
            raise _refuse(f"{what} has no {str(key)[:40]!r}", "it has " + " and ".join(known), "answer-row")


def _said(row: Row, words: tuple[str, ...], value: Any, what: str) -> float | str:
    if words:
        if isinstance(value, bool):
            value = words[0] if value else words[1]
        word = value.strip().casefold() if isinstance(value, str) and len(value) <= LIMITS.word_chars.value else ""
        if word not in words:
            raise _refuse(
                f"{what}: {str(value)[:40]!r} is not one of the words", "write " + " or ".join(words), "answer-word"
            )
        return word
    if row.mode in ("ohms", "diode") and (
        (isinstance(value, str) and value.strip().upper() == OL)
        or (isinstance(value, float) and math.isinf(value) and value > 0)
    ):
        return OL
    return _number(_bare(value, row.mode), what)


# what a row's mode shows, and the size of the units that may be written after a figure
_SIZES = {
    "volts": {"": 1.0, "v": 1.0, "mv": 1e-3},
    "diode": {"": 1.0, "v": 1.0, "mv": 1e-3},
    "amps": {"": 1.0, "a": 1.0, "ma": 1e-3},
    "ohms": {"": 1.0, "ohm": 1.0, "kohm": 1e3, "mohm": 1e6},
}
_FIGURE = re.compile(r"\s*([+-]?\d{1,9}(?:[.,]\d{1,9})?)\s*([A-Za-z]{0,4})\s*")


def _bare(value: Any, mode: str) -> Any:
    """A figure written with the unit of the row, such as ``"24 V"`` or ``"125 mA"``, as a number; all else as it is."""
    found = _FIGURE.fullmatch(value) if isinstance(value, str) and len(value) <= LIMITS.word_chars.value else None
    sizes = _SIZES.get(mode, {})
    if found is None or found[2].casefold() not in sizes:
        return value
    if found[2] == "mohm":  # a milliohm is no megohm
        return value
    return round(float(found[1].replace(",", ".")) * sizes[found[2].casefold()], 9)


_LAYERS = {"led": "led", "lit": "lit", "bit": "bit", "state": "state", "pos": "state"}


def _from_log(rows: Mapping[str, Row], log: Iterable[Done]) -> dict[str, Any]:
    """What a bench's log shows for each row's place: its last reading.

    Rows with one and the same place are filled in their order, if the place was read as often as there are rows.
    """
    read: dict[tuple[str, ...], list[tuple[Any, float]]] = {}
    for done in log:
        found = _read_at(done)
        if found is not None:
            read.setdefault(found[0], []).append((found, done.t_us / 1000))
    places: dict[tuple[str, ...], list[str]] = {}
    for key, row in rows.items():
        ends = (row.wire,) if row.mode == "amps" else (row.at,) if row.at else (row.red, row.black)
        places.setdefault(_place(row.mode, *ends), []).append(key)
    filled: dict[str, Any] = {}
    for where, keys in places.items():
        readings = read.get(where, [])
        if readings and (len(keys) == 1 or len(keys) == len(readings)):
            for key, ((_, value, red), at_ms) in zip(keys, readings[-len(keys) :], strict=True):
                turned = rows[key].mode == "volts" and red != rows[key].red
                filled[key] = {"value": -value if turned else value, "at_ms": at_ms}
    return filled


def _read_at(done: Done) -> tuple[tuple[str, ...], Any, str] | None:
    """The place of a reading or a noted look, what was seen there, and where the red probe was."""
    what = done.what
    if done.do == "note":
        layer, _, name = str(what["what"]).partition(":")
        seen = what["seen"]
        word = ("on" if seen else "off") if isinstance(seen, bool) else seen
        return (_place(_LAYERS[layer], name), word, "") if layer in _LAYERS else None
    if done.do != "read":
        return None
    value = what["shown"] if what["mode"] == "continuity" else OL if what["value"] is None else what["value"]
    ends = (str(what["wire"]),) if what["mode"] == "amps" else (what["red"], what["black"])
    return _place(what["mode"], *ends), value, ends[0]


def _place(mode: str, *ends: str) -> tuple[str, ...]:
    # a diode test has a direction; for the others only the sign changes with it
    return (mode, *(ends if mode == "diode" else sorted(ends)))


# hunts --------------------------------------------------------------------------------------------
def tidy_hunt(suspects: Iterable[tuple[str, str, str]], value: Any) -> dict[str, Any]:
    """Where and what it is, and the log of the search; `suspects` are ids with location and cause."""
    known = {fault: (location, cause) for fault, location, cause in suspects}
    log: Any = None
    if isinstance(value, Mapping):
        _only(value, ("location", "cause", "log"), "a hunt's answer")
        location, cause, log = value.get("location"), value.get("cause"), value.get("log")
    elif isinstance(value, str) and value.strip() in known:
        location, cause = known[value.strip()]
    elif isinstance(value, list | tuple) and len(value) == 2:
        location, cause = value
    else:
        raise _refuse(
            "a hunt is answered with the place and the cause",
            '{"location": "wire 102", "cause": "open"}',
            "answer-hunt",
        )
    if location is None or cause is None:
        missing = "where it is" if location is None else "what is wrong there"
        raise _refuse(f"the answer does not say {missing}", '{"location": ..., "cause": ...}', "answer-hunt")
    where = _chosen(location, [location for location, _ in known.values()], "the place")
    what = _chosen(cause, [cause for _, cause in known.values()], "the cause")
    tidy = [] if log is None else tidy_log(log)
    # each is done again on the board of every suspect, and a new network or an odd pair of probes must be solved anew
    for got, limit in (
        (sum(row["do"] == "read" for row in tidy), LIMITS.hunt_readings),
        (sum(row["do"] in _CHANGES for row in tidy), LIMITS.hunt_changes),
        (sum(len(row["gaps_ms"]) for row in tidy if isinstance(row.get("gaps_ms"), list)), LIMITS.hunt_changes),
    ):
        if got > limit.value:
            raise _refuse(limit.says(got), "take a fresh bench and search by halving", "answer-hunt")
    return {"location": where, "cause": what, "log": tidy}


def searched(log: Iterable[Done]) -> tuple[list[dict[str, Any]], str]:
    """As much of a hunt's log as is judged, and a sentence if that is not all of it.

    A hunt's bench is the same one to the end, so that a log that grew too long must not keep it from being handed over.
    """
    entries = list(log)
    reads = changes = 0
    for number, done in enumerate(entries):
        gaps = done.what.get("gaps_ms")
        reads += done.do == "read"
        changes += (done.do in _CHANGES) + (len(gaps) if isinstance(gaps, list | tuple) else 0)
        for got, limit in (
            (number + 1, LIMITS.answer_log),
            (reads, LIMITS.hunt_readings),
            (changes, LIMITS.hunt_changes),
        ):
            if got > limit.value:
                return log_of(entries[:number]), limit.says(f"more than {limit.value}") + ": what comes later is not"
    return log_of(entries), ""


def _chosen(value: Any, known: list[str], what: str) -> str:
    word = _word(value, what, LIMITS.word_chars.value)
    found = next((one for one in known if one.casefold() == word.casefold()), None)
    if found is None:
        names = sorted(set(known))
        raise _refuse(
            f"{what} {word[:40]!r} is not on the card",
            did_you_mean(word[:40], names) or "; ".join(names),
            "answer-hunt",
        )
    return found
