"""What lies between the wiring that a person sees and the network that is solved, such as faults."""

from __future__ import annotations

from collections.abc import Callable, Hashable, MutableMapping
from dataclasses import dataclass, field
from typing import Any

from labkit.bench._wiring import Rewiring
from labkit.bench.electric import Network
from labkit.board import Electrical

__all__ = ["Between", "Layered", "Solved"]

Solved = MutableMapping[tuple[Hashable, Hashable], Network]
"""Networks by state of the wiring and key of what lies between, with everything that has been solved in them."""

_MOST_SOLVED = 64


@dataclass(frozen=True, slots=True, eq=False)
class Between:
    """A change of the network that no hand has made and no wiring list shows.

    Parameters
    ----------
    key
        Equal keys mean equal changes: networks are kept under it.
    change
        Gives the changed electrical model of a sound one; whatever hands do to the wiring comes first.
    note
        The owner's own record, to be found again.
    solved
        Networks to share with other benches of the same kind: what one has solved the next one finds.
    """

    key: Hashable
    change: Callable[[Electrical], Electrical]
    note: Any = None
    solved: Solved = field(default_factory=dict)


class Layered(Rewiring):
    """The wiring of a bench with something between it and its network."""

    def __init__(self, sound: Rewiring, between: Between) -> None:
        self.__dict__.update(sound.__dict__)
        self.between = between

    def network(self) -> Network:
        """The network that the last change leads to, changed by what lies between."""
        between = self.between
        place = self._next, between.key
        found = between.solved.get(place)
        if found is None:
            sound = super().network()
            found = Network(between.change(sound.electrical), sound.feed_on_v, sound.feed_off_v)
            if len(between.solved) >= _MOST_SOLVED:
                between.solved.pop(next(iter(between.solved)))
            between.solved[place] = found
        return found

    def sound(self) -> Rewiring:
        """The same wiring with nothing between."""
        other: Rewiring = object.__new__(Rewiring)
        other.__dict__.update({key: value for key, value in self.__dict__.items() if key != "between"})
        return other
