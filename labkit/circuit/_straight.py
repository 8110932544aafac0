"""Cases of one port that keep to the sound pieces of their position: most of them, and settled without a system."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from labkit.circuit._graph import RHO_OHM, Floats, Ints
from labkit.circuit._offer import Offer
from labkit.circuit._stack import FINELY_V, TOLD, Settled

if TYPE_CHECKING:
    from labkit.circuit._asked import Asked

__all__ = ["settle_straight"]

# Of what rounding may leave; and volts of x that are under 1e-9 A in any curve.
QUIET, QUIET_V = 1e-3, 1e-9 * RHO_OHM


def settle_straight(asked: Asked, rows: Ints, result: Settled) -> tuple[Ints, Ints]:
    """Settle those of some cases that are of this kind.

    The others; and those of the settled that rounding may have put off.
    """
    owner, offer = asked.owner, asked.offer
    if owner._graphs.any_upright:  # ideal parts side by side need a closer look
        return rows, rows[:0]
    plain = asked.plain(rows)
    some = rows[plain]
    some = some[np.argsort(asked.position[some], kind="stable")]
    at = asked.at[some]
    ports = offer.rows(at, asked.own(some))
    port = ports[:, 0]
    y = offer.heard[port] / offer.alone[port]
    size, most = np.abs(y), np.abs(offer.alone[port])
    astray = (size * offer.noise[port] + offer.hiss[port]) / most
    # A network of resistances and of curves that never fall puts no more volts on any node than stand across the
    # branch that opens, nor more than stood between two nodes that are joined.
    volts = size * np.where(offer.cut[port], 1.0, most) + astray
    quiet = (volts < QUIET * owner.within_v) & (size * offer.most[port] < np.minimum(offer.margin[at], QUIET_V))
    same, there = some[quiet], at[quiet]
    result.volts[same], result.amps[same] = offer.volts[there], offer.amps[there]
    result.pieces[same] = offer.pieces[there]
    if owner.within_v < FINELY_V:
        return np.append(rows[~plain], some[~quiet]), rows[:0]
    usable = np.isfinite(y) & ~quiet
    others, weak = [rows[~plain], some[~usable & ~quiet]], [rows[:0]]
    loud = np.flatnonzero(usable)
    for begin in range(0, len(loud), TOLD):
        few = loud[begin : begin + TOLD]
        stay = _told(offer, result, into=some[few], at=at[few], ports=ports[few], y=y[few, None])
        others.append(some[few[~stay]])
        weak.append(some[few[stay & (astray[few] > owner.within_v)]])
    return np.concatenate(others), np.concatenate(weak)


def _told(offer: Offer, result: Settled, *, into: Ints, at: Ints, ports: Ints, y: Floats) -> NDArray[np.bool_]:
    """Put into the result what cases come to that keep to their sound pieces; which of them do."""
    shift = offer.x_by.take(ports[:, 0], 0)
    shift *= -y
    stay: NDArray[np.bool_] = ~((shift > offer.above.take(at, 0)) | (shift < offer.below.take(at, 0))).any(axis=1)
    shift, into, at = shift[stay], into[stay], at[stay]
    volts = offer.spread(at, ports[stay], shift * offer.lines[1].take(at, 0), y[stay])
    volts += offer.volts.take(at, 0)
    shift *= offer.lines[3].take(at, 0)
    shift += offer.amps.take(at, 0)
    result.volts[into], result.amps[into], result.pieces[into] = volts, shift, offer.pieces.take(at, 0)
    return stay
