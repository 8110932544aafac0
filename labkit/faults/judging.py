"""Marking a hunt on a live bench: what was found, how, and how safely, from the bench's log alone.

The points are our own choice, no source; they are those of :func:`labkit.faults.mark`. What each reading ruled out
comes from doing the log again on every suspect's board; what the board did after the repair, from doing it again on
the faulty one.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from labkit.bench.meter import PROVING
from labkit.bench.trace import Done
from labkit.faults._mending import left_after, same
from labkit.faults.dictionary import FaultDictionary
from labkit.faults.errors import FaultError
from labkit.faults.live import LiveHunt, Moment, agrees, band_of, logged
from labkit.faults.scoring import UNFOUNDED, Hunt, Line, Marking
from labkit.faults.situations import MINUTES

__all__ = ["mark_hunt", "minutes_of"]

READ_MINUTES = {"volts": MINUTES["volts"], "amps": MINUTES["volts"]}  # any other mode wants the board dead
DRY_MODES = ("ohms", "continuity", "diode")
CLOSE_V, CLOSE = 0.5, 0.05  # a figure said beforehand is right so near to the one shown, whatever the bands
HANDS_INSIDE = frozenset(
    {"swap", "repair", "lift", "land", "wire", "unwire", "rewire", "remove", "fit", "join", "unjoin"}
    | {"pull", "park", "seat", "uncode"}
)


def minutes_of(entry: Done) -> float:
    """What an entry of a log takes a person: a look, a reading on the live board, one with the power off."""
    if entry.do == "note":
        return MINUTES["lit"]
    return READ_MINUTES.get(entry.what["mode"], MINUTES["ohms"]) if entry.do == "read" else 0.0


def mark_hunt(
    hunt: LiveHunt,
    log: Sequence[Done],
    named: tuple[str, str] | None,
    *,
    dictionary: FaultDictionary | None = None,
    start: str = "S2",
    stop: str = "S1",
) -> Marking:
    """Mark a hunt, line by line, each with its reason.

    Parameters
    ----------
    hunt, log
        The hunt, and the log of the student's bench up to the end.
    named
        Location and cause as the student named them; None if nothing was named.
    dictionary
        What the suspects show in the usual situations: the search is then held against the best one there is. Without
        it, against halving the suspects with each reading.
    start, stop
        The buttons with which the function is tried again.

    Raises
    ------
    FaultError
        If `named` is not a pair of texts.
    """
    if named is not None and not (
        isinstance(named, tuple | list) and len(named) == 2 and all(isinstance(word, str) for word in named)
    ):
        raise FaultError(
            f"{named!r} does not name a fault",
            where="named",
            try_this='give location and cause: ("wire 201", "open"), or None if none was found',
            code="fault-value",
        )
    work = _Work.of(hunt, log, dictionary)
    lines = [*_found(work, named), _method(work), _telling(work), _inference(work, named)]
    if any(entry.do == "read" and "expect" in entry.what for entry in work.own):
        lines.append(_prediction(work))
    return Marking((*lines, _swaps(work), _safety(work), _again(work, start, stop)))


@dataclass(frozen=True)
class _Work:
    """A log, what the board showed at each entry, and which entry ruled out whom."""

    hunt: LiveHunt
    own: Sequence[Done]
    moments: Sequence[Moment]
    out_at: Mapping[str, int]
    cut: int
    dictionary: FaultDictionary | None
    alike: frozenset[str] = field(default=frozenset())

    @classmethod
    def of(cls, hunt: LiveHunt, log: Sequence[Done], dictionary: FaultDictionary | None) -> _Work:
        own = hunt.own(log)
        moments = hunt.moments(own)
        mended = next((i for i, moment in enumerate(moments) if not moment.present), len(own) + 1)
        out_at = {v.suspect: v.at for v in hunt.verdicts(log) if v.at is not None}
        alike = frozenset({hunt.truth})
        if dictionary is not None:
            alike |= Hunt(dictionary, tuple(f.id for f in hunt.suspects), hunt.truth).alike
        return cls(hunt, own, moments, out_at, mended - 1, dictionary, alike)

    def left(self, upto: int) -> frozenset[str]:
        """The suspects that the entries before `upto` leave possible; nothing after the repair counts."""
        limit = min(upto, self.cut)
        return frozenset(f.id for f in self.hunt.suspects if self.out_at.get(f.id, limit) >= limit)

    @property
    def looks(self) -> list[int]:
        """Numbers of the readings and notes made in the search, without those that only prove meter or board."""
        return [
            i
            for i, entry in enumerate(self.own[: self.cut])
            if entry.do in ("read", "note") and not self._proof_of_dead(i)
        ]

    def _proof_of_dead(self, number: int) -> bool:
        """Volts with the power off, and volts across the supply: prove, test, prove."""
        entry = self.own[number]
        if entry.do != "read" or entry.what["mode"] != "volts" or self._ruled_out(number):
            return False
        parts = {str(entry.what[probe]).partition(":")[0] for probe in ("red", "black")}
        supplies = {*PROVING, *(part.designation for part, _ in self.hunt.board.supplies)}
        return not self.moments[number].powered or parts <= supplies

    def _ruled_out(self, number: int) -> list[str]:
        return [name for name, at in self.out_at.items() if at == number]


def _found(work: _Work, named: tuple[str, str] | None) -> list[Line]:
    if named is None:
        return [Line("location", 0, 2, "no fault was named."), Line("cause", 0, 2, "no fault was named.")]
    hunt, place, cause = work.hunt, named[0], named[1]
    alike = [hunt.named(name) for name in sorted(work.alike)]
    left = [hunt.named(name) for name in work.left(work.cut)]
    at_place = any(_place(place, f.location) for f in alike)
    of_cause = any(_place(place, f.location) and same(cause, f.cause) for f in alike)
    sure_place = {f.location for f in left} <= {f.location for f in alike}
    sure_cause = {(f.location, f.cause) for f in left} <= {(f.location, f.cause) for f in alike}
    fault = hunt.fault
    return [
        _name_line("location", at_place, sure_place, fault.location),
        _name_line("cause", of_cause, sure_cause, fault.cause),
    ]


def _place(said: str, location: str) -> bool:
    return same(said, location) or same(f"wire {said}", location)


def _name_line(about: str, right: bool, sure: bool, truth: str) -> Line:
    if not right:
        return Line(about, 0, 2, f"it was {truth}.")
    if sure:
        return Line(about, 2, 2, "right, and the readings made before the repair leave nothing else.")
    return Line(about, 2 * UNFOUNDED, 2, "right, but the readings made leave others open: a guess.")


def _method(work: _Work) -> Line:
    start, end = len(work.hunt.suspects), max(1, len(work.left(work.cut)))
    share, looks = _share(work), work.looks
    spent = sum(minutes_of(work.own[i]) for i in looks)
    readings = sum(work.own[i].do == "read" for i in looks)
    if work.dictionary is None:
        # no table says which reading would have done, on the live board or the dead one: readings are counted, not
        # minutes, with one of grace, since no pool halves evenly
        tests = math.ceil(math.log2(start / len(work.alike)))
        pace, how = min(1.0, (tests + 1) / max(1, readings)), f"halving them takes {tests}"
    else:
        search = Hunt(work.dictionary, tuple(f.id for f in work.hunt.suspects), work.hunt.truth)
        best = search.difficulty
        how = f"the best search takes {search.best.tests(work.hunt.truth)} in {best:.1f} minutes"
        # one minute of grace: the best search for all suspects is not the shortest for this one
        pace = 1.0 if spent <= best + 1.0 else (best + 1.0) / spent
    reason = (
        f"{_some(readings, 'reading')} and {_some(len(looks) - readings, 'look')} in {spent:.1f} minutes"
        f" cut {start} suspects to {end};"
        f" {how}."
    )
    return Line("method", round(4 * share * pace, 2), 4, reason)


def _some(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"


def _share(work: _Work) -> float:
    """How much of what had to be found out has been: bits of suspects ruled out, over the bits to the last one."""
    start, end = len(work.hunt.suspects), max(1, len(work.left(work.cut)))
    needed = math.log2(start / len(work.alike))
    return 1.0 if needed == 0 else min(1.0, math.log2(start / end) / needed)


def _telling(work: _Work) -> Line:
    looks = work.looks
    told = [i for i in looks if i in work.out_at.values()]
    if not told:
        return Line("readings that tell", 0, 2, "nothing that was read or looked at ruled anybody out.")
    wasted = [_about(work.own[i]) for i in looks if i not in told and work.own[i].do == "read"]
    points = min(max(0.0, 2 - 0.5 * len(wasted)), 2 * _share(work))
    reason = f"ruled out nobody: {'; '.join(wasted)}." if wasted else "every reading ruled somebody out."
    return Line("readings that tell", round(points, 2), 2, reason)


def _about(entry: Done) -> str:
    what = entry.what
    return (
        f"amps in wire {what['wire']}" if what["mode"] == "amps" else f"{what['mode']} {what['red']} to {what['black']}"
    )


def _inference(work: _Work, named: tuple[str, str] | None) -> Line:
    hunt, points, reasons = work.hunt, 2.0, []
    struck = [(i, str(e.what.get("suspect", ""))) for i, e in enumerate(work.own) if e.do == "strike"]
    wrong = [hunt.named(name).title for i, name in struck if name in work.left(i)]
    if wrong:
        points -= len(wrong)
        reasons.append(f"struck off though the readings leave it open: {', '.join(wrong)}.")
    misread = [
        f"{entry.what['what']} {entry.what['seen']}"
        for entry, moment in zip(work.own, work.moments, strict=False)
        if entry.do == "note" and not agrees(entry, moment.bands)
    ]
    if misread:
        points -= 0.5 * len(misread)
        reasons.append(f"noted otherwise than the board showed it: {', '.join(misread)}.")
    open_names = {(hunt.named(n).location, hunt.named(n).cause) for n in work.left(work.cut)}
    if named is None:
        points, reasons = min(points, 0.0), [*reasons, "nothing was concluded."]
    elif not any(_place(named[0], place) and same(named[1], cause) for place, cause in open_names):
        points, reasons = points - 1, [*reasons, "the fault named is ruled out by the readings made."]
    elif len(open_names) > len(work.alike):
        points, reasons = points - 1, [*reasons, f"one was named while {len(open_names)} were open."]
    return Line("inference", max(0.0, points), 2, " ".join(reasons) or "what was concluded follows from the readings.")


def _prediction(work: _Work) -> Line:
    said = [entry for entry in work.own if entry.do == "read" and "expect" in entry.what]
    right = sum(_as_expected(entry) for entry in said)
    return Line("prediction", round(right / len(said), 2), 1, f"{right} of {len(said)} readings were as predicted.")


def _as_expected(entry: Done) -> bool:
    """The figure said lies in the band shown, or near the figure shown; or the word said is the band's."""
    what = entry.what
    said, mode, value = what["expect"], what["mode"], what.get("value")
    if isinstance(said, bool):
        return said == bool(value)
    try:
        figure = math.inf if same(str(said), "OL") else float(said)
    except (TypeError, ValueError):
        figure = math.nan
    if math.isnan(figure):
        return same(str(said), logged(entry)) or same(str(said), str(what.get("shown", "")))
    if value is not None and math.isfinite(figure):
        near = CLOSE_V if mode == "volts" else 0.0
        if abs(figure - value) <= max(near, CLOSE * abs(value)):
            return True
    return band_of(mode, None if math.isinf(figure) else figure) == logged(entry)


def _swaps(work: _Work) -> Line:
    early = []
    for i, entry in enumerate(work.own):
        place = _exchanged(entry)
        if place is None or i > work.cut:
            continue
        board = work.hunt.board
        there = {f.id for f in work.hunt.suspects if left_after(f, place, board) != f.changes}
        if not work.left(i) <= there | work.alike:
            early.append(place)
    reason = f"exchanged before it was proved: {', '.join(early)}." if early else "nothing was exchanged before proof."
    return Line("no swapping on suspicion", 0.0 - len(early), 0, reason)


def _exchanged(entry: Done) -> str | None:
    """The place that an entry puts right, if it is one that does."""
    if entry.do == "swap":
        return str(entry.what["part"])
    return str(entry.what["location"]) if entry.do == "repair" else None


def _safety(work: _Work) -> Line:
    acts = [
        f"{entry.what['mode']} on a live board ({_about(entry)})"
        for entry in work.own
        if entry.do == "read" and entry.what.get("live")
    ]
    acts += [str(entry.what.get("act", "unsafe")) for entry in work.own if entry.do == "unsafe"]
    inside = [
        entry.do
        for entry, moment in zip(work.own, work.moments, strict=False)
        if entry.do in HANDS_INSIDE and moment.powered
    ]
    if inside:  # one habit, not one act for each wire
        acts.append(f"hands in the board with the power on ({', '.join(dict.fromkeys(inside))})")
    if _unread(work):
        acts.append("power on again without a reading of the dead board after the work on it")
    if forced := _forced(work.own):
        acts.append(f"left forced: {', '.join(forced)}")
    return Line("safety", 0.0 - 2 * len(acts), 0, f"unsafe: {'; '.join(acts)}." if acts else "no unsafe act.")


def _unread(work: _Work) -> bool:
    """Whether the power came on after work on the board with no ohms or beep taken on it dead in between."""
    worked = not work.moments[0].powered
    for entry, moment in zip(work.own, work.moments, strict=False):
        if entry.do in HANDS_INSIDE:
            worked = True
        elif entry.do == "read" and entry.what["mode"] in DRY_MODES and not moment.powered:
            worked = worked and bool(entry.what.get("live"))
        elif entry.do == "power" and entry.what.get("on") and not moment.powered and worked:
            return True
    return False


def _forced(own: Sequence[Done]) -> list[str]:
    forced: dict[str, None] = {}
    for entry in own:
        if entry.do == "force":
            forced[str(entry.what["tag"])] = None
        elif entry.do == "unforce":
            tag = entry.what.get("tag")
            forced = {} if tag is None else {t: None for t in forced if t != tag}
    return list(forced)


def _again(work: _Work, start: str, stop: str) -> Line:
    """A start seen to work and, after it, a stop seen to work, both with the fault gone and nothing forced."""
    if work.cut >= len(work.own):
        return Line("tested again", 0, 2, "the fault was not put right, so nothing could be tested again.")
    started = stopped = False
    pressed = ""
    was_in = False
    for i in range(work.cut + 1, len(work.own) + 1):
        now_in = "closed" in work.moments[i].states.values()
        started = started or (pressed == start and not was_in and now_in)
        stopped = stopped or (pressed == stop and was_in and not now_in and started)
        if i < len(work.own) and work.own[i].do == "press" and work.own[i].what["part"] in (start, stop):
            pressed, was_in = str(work.own[i].what["part"]), now_in
    missing = [what for what, done in (("function", started), ("stop", stopped)) if not done]
    reason = f"not tried again after the repair: {' and '.join(missing)}." if missing else "start and stop were tried."
    return Line("tested again", float(2 - len(missing)), 2, reason)
