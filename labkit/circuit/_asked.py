"""Cases as arrays, and which of them are solved together."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import chain
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from labkit.circuit._graph import Floats, Ints
from labkit.circuit._offer import Offer
from labkit.circuit._stack import PORTS, TOGETHER, Case, Stack

if TYPE_CHECKING:
    from labkit.circuit.cases import Cases

__all__ = ["Asked"]


class Asked:
    """Some cases of one circuit.

    Parameters
    ----------
    position, number
        Of each case, and how many ports it has.
    ports
        Of the first case, the second, and so on.
    places, driven
        As in :class:`Case`, with the case's row, where there are any.
    """

    def __init__(
        self,
        owner: Cases,
        position: Ints,
        number: Ints,
        ports: Ints,
        *,
        places: Sequence[tuple[int, Mapping[str, str]]] = (),
        driven: Sequence[tuple[int, tuple[str, str, float]]] = (),
    ) -> None:
        self.owner, self.position, self.number, self.ports = owner, position, number, ports
        self.first: Ints = np.cumsum(number) - number
        self._place(places, len(position))
        self._drive(driven, len(position))

    @classmethod
    def of(cls, owner: Cases, cases: Sequence[Case]) -> Asked:
        """Cases told one by one."""
        ports = [case.ports for case in cases]
        return cls(
            owner,
            np.array([case.position for case in cases], dtype=np.int64),
            np.array([len(some) for some in ports], dtype=np.int64),
            np.fromiter(chain.from_iterable(ports), np.int64),
            places=[(row, case.places) for row, case in enumerate(cases) if case.places],
            driven=[(row, case.driven) for row, case in enumerate(cases) if case.driven],
        )

    def _place(self, told: Sequence[tuple[int, Mapping[str, str]]], count: int) -> None:
        """Note what stands in the place of each curve, by its number, in some of `count` cases."""
        base, numbers = self.owner._base, self.owner._place
        self.placed = np.zeros(count, dtype=bool)
        self.placed[[row for row, _ in told]] = True
        self.of_placed = np.cumsum(self.placed) - 1
        self.places: Ints = np.repeat(base[None, :], len(told), axis=0)
        for row, (_, there) in enumerate(told):
            for name, other in there.items():
                self.places[row, numbers[name]] = numbers[other]

    def _drive(self, told: Sequence[tuple[int, tuple[str, str, float]]], count: int) -> None:
        """Note the place of each case among those that amps are driven through, or -1; and of these nodes and amps."""
        self.pushed: Ints = np.full(count, -1)
        self.pushed[[row for row, _ in told]] = np.arange(len(told))
        self.ends: Ints = self.owner.solver.rows([n for _, driven in told for n in driven[:2]]).reshape(-1, 2)
        self.amps: Floats = np.array([driven[2] for _, driven in told])

    def prepare(self, rows: Ints) -> None:
        """Make what their positions offer to these cases."""
        used = np.zeros(len(self.position), dtype=bool)
        used[rows] = True
        ports = self.ports[np.repeat(used, self.number)]
        self.offer = Offer(self.owner, self.position[used], self.number[used], ports)
        self.at: Ints = np.searchsorted(self.offer.positions, self.position)

    def plain(self, rows: Ints) -> NDArray[np.bool_]:
        """Which cases have one port at most, and nothing else."""
        return (self.number[rows] <= 1) & ~self.placed[rows] & (self.pushed[rows] < 0)

    def alike(self, rows: Ints, ports: Sequence[int] = PORTS) -> Iterator[Ints]:
        """Cases that are solved together: of about as many ports, sorted by position."""
        size = 2 * np.searchsorted(ports, self.number[rows])
        for step in np.unique(size).tolist():
            every = rows[size == step]
            every = every[np.argsort(self.position[every], kind="stable")]
            for begin in range(0, len(every), TOGETHER):
                yield every[begin : begin + TOGETHER]

    def stack(self, rows: Ints) -> Stack:
        """Some cases together, sorted by position."""
        through = np.flatnonzero(self.pushed[rows] >= 0)
        which = self.pushed[rows[through]]
        return Stack(
            self.owner,
            self.offer,
            rows,
            at=self.at[rows],
            own=self.own(rows),
            places=self._stand(rows) if self.placed[rows].any() else None,
            driven=(through, self.ends[which], self.amps[which]),
        )

    def _stand(self, rows: Ints) -> Ints:
        """What stands in the place of each curve."""
        found = np.repeat(self.owner._base[None, :], len(rows), axis=0)
        there = self.placed[rows]
        found[there] = self.places[self.of_placed[rows[there]]]
        return found

    def own(self, rows: Ints) -> Ints:
        """The ports of some cases, -1 for none."""
        slots = np.arange(max(1, int(self.number[rows].max(initial=0))))
        if not len(self.ports):
            return np.full((len(rows), len(slots)), -1)
        there = slots < self.number[rows, None]
        return np.where(there, self.ports.take(self.first[rows, None] + slots, mode="clip"), -1)
