"""Cases of one port that keep to the sound pieces of their position: most of them, and settled without a system."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from labkit.circuit._graph import Ints
from labkit.circuit._stack import FINELY_V, TOLD, Settled

if TYPE_CHECKING:
    from labkit.circuit._asked import Asked

__all__ = ["settle_straight"]


def settle_straight(asked: Asked, rows: Ints, result: Settled) -> tuple[Ints, Ints]:
    """Settle those of some cases that are of this kind.

    The others; and those of the settled that rounding may have put off.
    """
    owner, offer = asked.owner, asked.offer
    if owner._graphs.any_upright:
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
    quiet = (volts < owner.tie_v) & (size * offer.most[port] < offer.margin[at])
    same, there = some[quiet], at[quiet]
    result.volts[same], result.pieces[same], result.amps[same] = offer.volts[there], offer.pieces[there], offer.amps[there]
    if owner.within_v < FINELY_V:
        return np.append(rows[~plain], some[~quiet]), rows[:0]
    stays = np.isfinite(y) & ~quiet
    others, weak = [rows[~plain], some[~quiet & ~stays]], [rows[:0]]
    loud = np.flatnonzero(stays)
    for begin in range(0, len(loud), TOLD):
        here = loud[begin : begin + TOLD]
        shift = offer.x_by.take(port[here], 0)
        shift *= -y[here, None]
        there = at[here]
        outside = ((shift > offer.above.take(there, 0)) | (shift < offer.below.take(there, 0))).any(axis=1)
        others.append(some[here[outside]])
        inside = np.flatnonzero(~outside)
        here, shift, there = here[inside], shift[inside], there[inside]
        into = some[here]
        told = offer.spread(there, ports[here], shift * offer.lines[1].take(there, 0), y[here, None])
        told += offer.volts.take(there, 0)
        result.volts[into] = told
        shift *= offer.lines[3].take(there, 0)
        shift += offer.amps.take(there, 0)
        result.amps[into], result.pieces[into] = shift, offer.pieces.take(there, 0)
        weak.append(into[astray[here] > owner.within_v])
    return np.concatenate(others), np.concatenate(weak)
