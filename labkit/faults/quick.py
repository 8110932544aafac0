"""The fault dictionary without working a bench for each fault: from low-rank changes of the sound board's inverse."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from labkit.bench import Bench, Network
from labkit.board import Board, Electrical, electrify, load_board
from labkit.circuit import Case, Source, meter
from labkit.circuit.elements import terminals as ends
from labkit.faults._lowrank import Points
from labkit.faults._walk import Seen, Walk
from labkit.faults.catalogue import Fault, every_single_fault
from labkit.faults.dictionary import (
    QUICK_US,
    SLOW_US,
    STIFF_OHM,
    VOLT_BANDS,
    FaultDictionary,
    build_dictionary,
    ohm_band,
)
from labkit.faults.situations import Situation, Test, perform, situations, tests_of

__all__ = ["Quick", "quick_dictionary"]

Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]
Name = tuple[int, int, int]


def quick_dictionary(
    board: Board | str = "orchard", faults: Sequence[Fault] | None = None, tests: Sequence[Test] | None = None
) -> FaultDictionary:
    """As :func:`build_dictionary`, and the same bands, but all faults at once.

    A fault whose consequences need time (a breaker that trips, a relay that chatters, a supply in its current limit) is
    worked on a bench as ever.

    Raises
    ------
    FaultError
        If the bench cannot be worked with a fault in; the fault is named.
    """
    board = load_board(board) if isinstance(board, str) else board
    faults = every_single_fault(board) if faults is None else tuple(faults)
    tests = tests_of(board) if tests is None else tuple(tests)
    if not electrify(board).supplies:  # a controller that needs no supply is the bench's affair
        return build_dictionary(board, faults, tests)
    quick = Quick(board, faults)
    rows = quick.bands(tests)
    left = quick.left
    slow = build_dictionary(board, left, tests) if left else None
    if slow is not None:
        known = {fault.id: row for fault, row in zip(slow.faults, slow.rows[1:], strict=True)}
        rows = [rows[0], *(known.get(f.id, row) for f, row in zip(faults, rows[1:], strict=True))]
    return FaultDictionary(tuple(faults), tuple(tests), tuple(rows))


class Quick:
    """A board with every fault, walked through its situations.

    Attributes
    ----------
    left
        The faults that only a bench can tell.
    points
        The operating points that were met.
    """

    def __init__(self, board: Board, faults: Sequence[Fault]) -> None:
        bench = Bench(board)
        self.faults = tuple(faults)
        self.situations = situations(board)
        self.net: Network = bench.engine.net
        self.electrical = self.net.electrical
        self.points = Points(
            self.electrical, [_rewired(bench, self.situations, verb) for verb in ("lift_all", "remove")], faults
        )
        self.walk = Walk(bench, self.points, faults, self.situations)
        self.seen, self.released = self.walk.go()

    @property
    def left(self) -> tuple[Fault, ...]:
        """As above."""
        return tuple(f for f, left in zip(self.faults, self.walk.left[1:], strict=True) if left)

    def bands(self, tests: Sequence[Test]) -> list[tuple[str, ...]]:
        """The band of every test, a row for each board, the sound one first."""
        columns: dict[Test, Sequence[str]] = {}
        for situation in self.situations:
            here = [t for t in tests if t.situation == situation.name]
            if here:
                columns |= self._looks(situation, here)
                columns |= self._volts(situation, [t for t in here if t.kind == "volts"])
                columns |= self._ohms(situation, [t for t in here if t.kind == "ohms"])
        return list(zip(*(columns[test] for test in tests), strict=True)) if tests else [()] * self.walk.boards

    def _looks(self, situation: Situation, tests: Sequence[Test]) -> dict[Test, Sequence[str]]:
        seen, net = self.seen[situation.name], self.electrical
        inputs = {c.point: k for k, c in enumerate(net.inputs)}
        outputs = {o.point: k for k, o in enumerate(net.outputs)}
        lamps = {lamp.part: k for k, lamp in enumerate(net.lamps)}
        found: dict[Test, Sequence[str]] = {}
        for test in tests:
            if test.kind == "led":
                on = seen.inputs[:, inputs[test.a]] if test.a in inputs else seen.outputs[:, outputs[test.a]]
                found[test] = np.where(on, "on", "off").tolist()
            elif test.kind == "lit":
                found[test] = np.where(seen.lit[:, lamps[test.a]], "on", "off").tolist()
            elif test.kind == "state":
                names = net.actors[test.a].states
                found[test] = [names[k] for k in seen.states[:, self.walk.actors[test.a]].tolist()]
            elif test.kind == "release":
                found[test] = [_let_go(what) for what in self.released[test.a]]
        return found

    # volts ------------------------------------------------------------------------------------------
    def _volts(self, situation: Situation, tests: Sequence[Test]) -> dict[Test, Sequence[str]]:
        """The bands of voltages, with the meter's own load where it can matter (as the slow way has it)."""
        if not tests:
            return {}
        points, seen = self.points, self.seen[situation.name]
        a, b = (points.solver.rows([getattr(t, end) for t in tests]) for end in ("a", "b"))
        volts = points.volts[seen.points]
        bare = volts[:, a] - volts[:, b]
        stiff = self._stiff(seen)
        bands = _volt_bands(bare)
        sure = (np.abs(bare) <= 1.0) | ((_volt_bands(bare * 0.999) == bands) & stiff[:, a] & stiff[:, b])
        sure |= self.walk.left[:, None]
        rows, columns = np.nonzero(~sure)
        known: dict[tuple[int, int, int], int] = {}
        cases: list[Case] = []
        for row, column in zip(rows.tolist(), columns.tolist(), strict=True):
            name = int(seen.points[row]), int(a[column]), int(b[column])
            if name not in known:
                known[name] = len(cases)
                case = points.case_of(name[0])
                port = points.cases.joined(tests[column].a, tests[column].b, meter.VOLTS_OHM)
                cases.append(case._replace(ports=(*case.ports, port)))
        found = points.cases.solve(cases)
        for row, column in zip(rows.tolist(), columns.tolist(), strict=True):
            case_row = known[int(seen.points[row]), int(a[column]), int(b[column])]
            reads = found.volts[case_row, a[column]] - found.volts[case_row, b[column]]
            if found.doubtful[case_row]:
                solver, key = points.alone(int(seen.points[row]))
                reads = solver.loaded(key, tests[column].a, tests[column].b, meter.VOLTS_OHM).volt(
                    tests[column].a, tests[column].b
                )
            bare[row, column] = reads
        bands = _volt_bands(bare)
        return {test: [BANDS[k] for k in bands[:, column].tolist()] for column, test in enumerate(tests)}

    def _stiff(self, seen: Seen) -> Bools:
        """For each board the nodes that wires and closed contacts alone tie to a terminal of a supply."""
        points, boards = self.points, self.walk.boards
        index = {node: k for k, node in enumerate(points.solver.nodes)}
        edges: dict[tuple[int, int], Bools] = {}
        reached = np.zeros((len(index), boards), dtype=bool)
        names = [points.names[k] for k in seen.points.tolist()]
        keys = np.array([key for _, _, key in names])
        changed = self._changed(names)
        for element in self.electrical.circuit.elements:
            if isinstance(element, Source):
                reached[[index[n] for n in ends(element)]] = True
            elif getattr(element, "ohm", STIFF_OHM) < STIFF_OHM:
                pair = index[ends(element)[0]], index[ends(element)[1]]
                bit = points.bit.get(element.name)
                holds = np.ones(boards, dtype=bool) if bit is None else (keys & bit) != 0
                if element.name in changed:
                    holds[changed[element.name]] = False
                edges[pair] = edges.get(pair, np.zeros(boards, dtype=bool)) | holds
        for board, (wiring, fault, key) in enumerate(names):
            altered = points.wired[wiring].altered[fault]
            extra = [(x, y) for x, y, ohm in altered.joined if ohm < STIFF_OHM]
            extra += [(x, y) for bit, (x, y, ohm) in altered.moved.items() if key >> bit & 1 and ohm < STIFF_OHM]
            for x, y in extra:
                edges.setdefault((index[x], index[y]), np.zeros(boards, dtype=bool))[board] = True
        more = True
        while more:
            before = int(reached.sum())
            for (x, y), holds in (*edges.items(), *reversed(edges.items())):
                tied = (reached[x] | reached[y]) & holds
                reached[x] |= tied
                reached[y] |= tied
            more = int(reached.sum()) > before
        return reached.T

    def _changed(self, names: Sequence[tuple[int, int, int]]) -> dict[str, list[int]]:
        found: dict[str, list[int]] = {}
        switches = self.electrical.switches
        for board, (wiring, fault, _) in enumerate(names):
            wired = self.points.wired[wiring]
            altered = wired.altered[fault]
            gone = [n for n, ohm in altered.added if ohm + self.points.elements[n].ohm >= STIFF_OHM]  # type: ignore[union-attr]
            for name in (*gone, *wired.out, *(switches[bit] for bit in altered.moved)):
                found.setdefault(name, []).append(board)
        return found

    # ohms -------------------------------------------------------------------------------------------
    def _ohms(self, situation: Situation, tests: Sequence[Test]) -> dict[Test, Sequence[str]]:
        """The bands of resistances on the dead board: the meter's ranges one after the other, all boards at once."""
        if not tests:
            return {}
        seen, points = self.seen[situation.name], self.points
        index = {node: k for k, node in enumerate(points.solver.nodes)}
        touched = [index[t] for t in self.electrical.board.terminals if t in index]
        live = np.abs(points.volts[seen.points][:, touched]).max(axis=1) > meter.LIVE_V
        self.walk.left |= live
        dry = Points(points.sound, (), (), like=points, stray_per_ohm=meter.DRY_PER_OHM)
        names = [points.names[k] for k in seen.points.tolist()]
        for wiring, _, key in names[:1]:
            dry.find([(wiring, 0, key)], [(wiring, key)])
        distinct = list(dict.fromkeys(names))
        cases = [dry.case(*name) for name in distinct]
        reads: dict[tuple[int, int], float] = {}
        open_: list[tuple[int, int]] = [(k, t) for k in range(len(distinct)) for t in range(len(tests))]
        ranges = [meter.OHM_RANGES[-1], *meter.OHM_RANGES]
        for number, (full, amps) in enumerate(ranges):
            found = _pushed(dry, [(cases[k], tests[t], distinct[k]) for k, t in open_], amps)
            further = []
            for (k, t), ohms in zip(open_, found.tolist(), strict=True):
                if number == 0:
                    reads[k, t] = np.inf if ohms > full else ohms
                    if ohms <= full:
                        further.append((k, t))
                elif ohms <= full:
                    reads[k, t] = ohms
                else:
                    further.append((k, t))
            open_ = further
        row = {name: k for k, name in enumerate(distinct)}
        return {test: [ohm_band(reads[row[name], t]) for name in names] for t, test in enumerate(tests)}


def _pushed(dry: Points, wanted: Sequence[tuple[Case, Test, Name]], amps: float) -> Floats:
    """What the meter reads while it pushes these amps, in ohm."""
    if not wanted:
        return np.zeros(0)
    found = dry.cases.solve([case._replace(driven=(test.a, test.b, amps)) for case, test, _ in wanted])
    a, b = (dry.solver.rows([getattr(test, end) for _, test, _ in wanted]) for end in ("a", "b"))
    each = np.arange(len(wanted))
    volts: Floats = np.abs(found.volts[each, a] - found.volts[each, b]) / amps
    for row in np.flatnonzero(found.doubtful).tolist():
        solver, key = dry.alone_with(wanted[row][2])
        test = wanted[row][1]
        volts[row] = abs(solver.vary(key, injected={test.a: amps, test.b: -amps}).volt(test.a, test.b)) / amps
    return volts


BANDS = (*(name for _, name in VOLT_BANDS), "reversed")


def _volt_bands(volts: Floats) -> NDArray[np.int64]:
    """The bands of many voltages, as numbers of :data:`BANDS`."""
    limits = np.array([limit for limit, _ in VOLT_BANDS])
    return np.where(volts < -1.0, len(limits), np.searchsorted(limits, np.abs(volts)))


def _let_go(what: str) -> str:
    """The band of a release time that is given in microseconds, or what is said in place of one."""
    if not what.isdigit():
        return what
    return "quick" if int(what) < QUICK_US else "usual" if int(what) < SLOW_US else "slow"


def _rewired(bench: Bench, every: Sequence[Situation], verb: str) -> Electrical:
    """The board after all the steps of one kind."""
    other = bench.again()
    for step in (step for situation in every for step in situation.do if step[0] == verb):
        perform(other, step)
    return other.engine.net.electrical
