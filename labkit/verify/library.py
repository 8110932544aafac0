"""Requirements that motor control always has, ready to be put to a program. Each names the rule that it comes from.

``may`` is what must be able to happen for the requirement to say anything: hand it to :func:`prove` along with the
buttons. Signals are those of the orchard board; other boards have other names.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from labkit.verify.expressions import And, Condition, Not, Or, Sign, condition
from labkit.verify.requirements import CanReach, Keeps, Never, OnlyAfter, Requirement, StaysUntil, Whenever

__all__ = [
    "LIBRARY",
    "can_start",
    "dwell",
    "emergency_stop_opens",
    "follows",
    "held_start_does_not_restart",
    "held_start_waits_at_power_up",
    "lamp_tells_the_truth",
    "never_both",
    "no_self_start",
    "proves_itself",
    "reset_is_no_start",
    "seal_drops_with_auxiliary",
    "starts_only_when_asked",
    "stays_on",
    "stop_opens",
    "stop_wins",
    "trip_opens",
    "trip_stops",
    "warned",
    "weld_is_told",
    "wire_off_stops",
]

FIRST = Sign("back:A1")
"""The first scan after the supply came: what is asked for since then has no earlier history."""


def _or(*items: Condition) -> Or:
    return Or(tuple(items))


def _opens(cause: Condition, *outputs: Condition, scans: int) -> Whenever:
    """While the cause lasts, the outputs are off soon and stay so."""
    off = And(outputs) if len(outputs) > 1 else outputs[0]
    return Whenever(cause, _or(off, Not(cause)), scans)


# stop ---------------------------------------------------------------------------------------------------
def stop_wins(output: str = "K1", stop: str = "not S1", *, scans: int = 0) -> Whenever:
    """Whenever stop is asked for, the output is off, whatever else is pressed.

    The stop function overrides the related start function (IEC 60204-1, 9.2).

    Examples
    --------
    >>> stop_wins()
    whenever not S1 then not K1 within 0 scans
    """
    return Whenever(condition(stop), Not(Sign(output)), scans)


def stop_opens(button: str = "S1", output: str = "pole:K1", *, scans: int = 4) -> Whenever:
    """While the stop button is pressed, the contactor opens and stays open: through wires, input, program and coil.

    Stop is category 0 here: power is removed at once (IEC 60204-1, 9.2).

    Examples
    --------
    >>> stop_opens()
    whenever pos:S1 then not pole:K1 or not pos:S1 within 4 scans
    """
    return _opens(Sign(f"pos:{button}"), Not(Sign(output)), scans=scans)


def emergency_stop_opens(button: str = "S0", outputs: Sequence[str] = ("pole:K1",), *, scans: int = 2) -> Whenever:
    """While the emergency stop is pressed, all contactors open, whatever the program does. May: ``"S0"``.

    The emergency stop overrides all other functions in all modes (IEC 60204-1 and ISO 13850, summaries).

    Examples
    --------
    >>> emergency_stop_opens(outputs=("pole:K1", "pole:K3"))
    whenever pos:S0 then (not pole:K1 and not pole:K3) or not pos:S0 within 2 scans
    """
    return _opens(Sign(f"pos:{button}"), *(Not(Sign(o)) for o in outputs), scans=scans)


def wire_off_stops(wire: str, output: str = "pole:K1", *, scans: int = 4) -> Whenever:
    """A wire that comes off and stays off stops what runs, and keeps it from starting. May: ``"wire:101"``.

    Stop works by de-energising: the closed-circuit principle (IEC 60204-1 / NFPA 79, from memory).

    Examples
    --------
    >>> wire_off_stops("101")
    whenever wire:101=lifted then not pole:K1 or not wire:101=lifted within 4 scans
    """
    return _opens(Sign(f"wire:{wire}=lifted"), Not(Sign(output)), scans=scans)


# start --------------------------------------------------------------------------------------------------
def starts_only_when_asked(output: str = "pole:K1", start: str = "pos:S2") -> OnlyAfter:
    """Nothing runs before somebody has pressed start.

    Start works by energising (IEC 60204-1, 9.2): an open circuit starts nothing.

    Examples
    --------
    >>> starts_only_when_asked()
    pole:K1 only after pos:S2
    """
    return OnlyAfter(condition(output), condition(start))


def can_start(output: str = "K1") -> CanReach:
    """Whatever has happened, there is a way to start it again: no dead end.

    A requirement that everything stays off would be met by a program that does nothing (common sense, no source).

    Examples
    --------
    >>> can_start()
    K1 can still be reached
    """
    return CanReach(condition(output))


def stays_on(output: str = "K1", until: str = "not S1") -> StaysUntil:
    """Once on it stays on until there is a reason to stop, however short the press was.

    Three-wire control holds itself (motor-control textbooks).

    Examples
    --------
    >>> stays_on(until="not S1 or F3_T")
    K1 stays until not S1 or F3_T
    """
    return StaysUntil(Sign(output), condition(until))


def held_start_does_not_restart(output: str = "K1", start: str = "S2", stop: str = "not S1") -> OnlyAfter:
    """A start button that is held or jammed through a stop does not start when stop is let go.

    A new deliberate act starts, not the end of a stop (IEC 60204-1, 9.2, in spirit; from memory).

    Examples
    --------
    >>> held_start_does_not_restart()
    K1 only after not S2 or back:A1 since not S1
    """
    return OnlyAfter(Sign(output), _or(Not(condition(start)), FIRST), condition(stop))


# loss and return of supply --------------------------------------------------------------------------------
def no_self_start(output: str = "pole:K1", start: str = "S2", *, lost: str = "back:A1") -> OnlyAfter:
    """After a supply was lost and `output` has dropped, it comes back only once somebody has asked for it.

    `lost` is ``back:A1`` for the controller's own supply (may: ``"power"``), ``not pos:F4`` for an output group's
    (may: ``"F4"``), ``F3_T`` for a trip. Return of supply must not start the machine (IEC 60204-1, 7.5, from memory).

    Examples
    --------
    >>> no_self_start(lost="not pos:F4")
    pole:K1 only after S2 since not pos:F4 and not pole:K1
    """
    gone = condition(lost)
    items = gone.items if isinstance(gone, And) else (gone,)
    return OnlyAfter(Sign(output), condition(start), And((*items, Not(Sign(output)))))


def held_start_waits_at_power_up(output: str = "K1", start: str = "S2") -> OnlyAfter:
    """A start button that is held while power returns does not start. May: ``"power"``.

    The same rule as :func:`no_self_start` (IEC 60204-1, 7.5, from memory), with a hand or a jam on the button.

    Examples
    --------
    >>> held_start_waits_at_power_up()
    K1 only after not S2 since back:A1
    """
    return OnlyAfter(Sign(output), Not(condition(start)), FIRST)


# overload -----------------------------------------------------------------------------------------------
def trip_stops(output: str = "K1", trip: str = "F3_T") -> Whenever:
    """A trip takes the command away, not only the coil's current. May: ``"F3"``.

    Otherwise the motor starts at the reset (IEC 60204-1, 7.3, from memory).

    Examples
    --------
    >>> trip_stops()
    whenever F3_T then not K1 within 0 scans
    """
    return Whenever(condition(trip), Not(Sign(output)))


def trip_opens(relay: str = "F3", output: str = "pole:K1", *, scans: int = 1) -> Whenever:
    """The trip contact breaks the coil circuit itself, sooner than any program could. May: ``"F3"``.

    Protection does not hang on the program (motor-control practice, no source).

    Examples
    --------
    >>> trip_opens()
    whenever pos:F3 then not pole:K1 or not pos:F3 within 1 scans
    """
    return _opens(Sign(f"pos:{relay}"), Not(Sign(output)), scans=scans)


def reset_is_no_start(output: str = "pole:K1", start: str = "S2", trip: str = "F3_T") -> OnlyAfter:
    """The reset of an overload does not start the motor. May: ``"F3"``.

    Automatic restart after a trip is prevented where it is dangerous (IEC 60204-1, 7.3.1, from memory).

    Examples
    --------
    >>> reset_is_no_start()
    pole:K1 only after S2 since F3_T and not pole:K1
    """
    return no_self_start(output, start, lost=trip)


# feedback -----------------------------------------------------------------------------------------------
def seal_drops_with_auxiliary(
    block: str = "K1.aux", output: str = "pole:K1", start: str = "pos:S2", *, scans: int = 30
) -> Whenever:
    """With the auxiliary block off nothing runs on without a hand on start. May: ``"K1.aux"``.

    What cannot be proved to run is not let run (automation practice, no source).

    Examples
    --------
    >>> seal_drops_with_auxiliary()
    whenever pos:K1.aux then not pole:K1 or pos:S2 or not pos:K1.aux within 30 scans
    """
    off = Sign(f"pos:{block}")
    return Whenever(off, _or(Not(Sign(output)), condition(start), Not(off)), scans)


def proves_itself(command: str = "K1", feedback: str = "K1_A", *, scans: int = 51) -> Whenever:
    """A command without its feedback is taken away in time (fail to start). May: ``"K1.aux"``.

    More scans than pull-in, filter and two scans need, or a sound contactor is told to be faulty (automation practice).

    Examples
    --------
    >>> proves_itself()
    whenever K1 and not K1_A then not K1 or K1_A within 51 scans
    """
    order, proof = Sign(command), Sign(feedback)
    return Whenever(And((order, Not(proof))), _or(Not(order), proof), scans)


def weld_is_told(alarm: str, command: str = "K1", feedback: str = "K1_A", *, scans: int = 21) -> Whenever:
    """A contactor that stays in after its command is told (fail to stop). May: ``"weld:K1"``.

    A weld is met while nothing happens yet, and not at the next reversal (automation practice, no source).

    Examples
    --------
    >>> weld_is_told("FSP")
    whenever not K1 and K1_A then FSP or K1 or not K1_A within 21 scans
    """
    order, proof = Sign(command), Sign(feedback)
    return Whenever(And((Not(order), proof)), _or(Sign(alarm), order, Not(proof)), scans)


def lamp_tells_the_truth(lamp: str = "P1", contactor: str = "K1", test: str = "pos:S6", *, scans: int = 2) -> Whenever:
    """A run lamp does not burn over a motor that stands, the lamp test apart. May: ``"wire:221"``.

    Indicators show the state, not the order (IEC 60204-1, 10.3, in spirit; from memory).

    Examples
    --------
    >>> lamp_tells_the_truth()
    whenever lit:P1 then pole:K1 or pos:S6 or not lit:P1 within 2 scans
    """
    lit = Sign(f"lit:{lamp}")
    return Whenever(lit, _or(Sign(f"pole:{contactor}"), condition(test), Not(lit)), scans)


# more than one ------------------------------------------------------------------------------------------
def never_both(first: str, second: str) -> Never:
    """Two things that must not be on together. May: ``"weld:K1"``, ``"contactor times"``.

    Contactors whose closing together is a short are interlocked (IEC 60204-1, 9.3, from memory).

    Examples
    --------
    >>> never_both("pole:K1", "pole:K2")
    never pole:K1 and pole:K2
    """
    return Never(And((Sign(first), Sign(second))))


def dwell(first: str = "pole:K1", second: str = "K2", length: int = 9, unit: str = "scans") -> Keeps:
    """After the first has been closed, the second is not ordered for so long.

    Time for the arc and the motor's field to go (motor-control practice, no source).

    Examples
    --------
    >>> dwell(length=90, unit="ms")
    whenever pole:K1 then not K2 for 90 ms
    """
    return Keeps(condition(first), Not(Sign(second)), length, unit)


def follows(second: str, first: str) -> Whenever:
    """The second is ordered only while the first is proved.

    A conveyor runs only onto one that runs (motor-control practice, no source).

    Examples
    --------
    >>> follows("K3", "K1_A")
    whenever not K1_A then not K3 within 0 scans
    """
    return Whenever(Not(condition(first)), Not(Sign(second)))


def warned(motion: str = "K1", horn: str = "P9", length: int = 300, unit: str = "scans") -> Keeps:
    """No motion before so much warning without a break.

    A start that people cannot see coming is announced (IEC 60204-1, 9.2, in spirit; from memory).

    Examples
    --------
    >>> warned()
    whenever not P9 and not K1 then not K1 for 300 scans
    """
    still = Not(Sign(motion))
    return Keeps(And((Not(Sign(horn)), still)), still, length, unit)


LIBRARY: tuple[Callable[..., Requirement], ...] = (
    stop_wins,
    stop_opens,
    emergency_stop_opens,
    wire_off_stops,
    starts_only_when_asked,
    can_start,
    stays_on,
    held_start_does_not_restart,
    no_self_start,
    held_start_waits_at_power_up,
    trip_stops,
    trip_opens,
    reset_is_no_start,
    seal_drops_with_auxiliary,
    proves_itself,
    weld_is_told,
    lamp_tells_the_truth,
    never_both,
    dwell,
    follows,
    warned,
)
"""All of them, in the order of the page."""
