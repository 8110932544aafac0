"""Hands on plug-on terminal blocks: off, parked for wiring, or seated on a header; coding pins pulled."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from labkit.base import did_you_mean
from labkit.bench.errors import BenchError
from labkit.board import Plug, Seat, why_not

__all__ = ["BlockHands", "Blocks"]


@dataclass(frozen=True, slots=True)
class Blocks:
    """Where the blocks are that are not where they belong, and which headers have lost their pins."""

    seats: tuple[tuple[str, Seat], ...] = ()
    uncoded: frozenset[str] = frozenset()

    def of(self, block: str) -> Seat:
        """Where a block is; one that nobody has touched sits on its own header."""
        return dict(self.seats).get(block, Seat(on=block))

    def put(self, block: str, seat: Seat) -> Blocks:
        """The same with one block put elsewhere."""
        others = {name: old for name, old in self.seats if name != block}
        if seat != Seat(on=block):
            others[block] = seat
        return replace(self, seats=tuple(sorted(others.items(), key=lambda item: item[0])))

    def on(self, header: str, plugs: Iterable[str]) -> str:
        """The block that sits on a header, or ``""``."""
        return next((block for block in plugs if self.of(block).on == header), "")


class BlockHands:
    """The verbs for terminal blocks; a bench has them."""

    _wiring: Any
    board: Any
    _rewire: Callable[..., None]
    on_swap: list[Callable[[str], object]]

    def block(self, block: str) -> str:
        """Where a plug-on terminal block is: ``off``, ``parked`` or ``seated``.

        Raises
        ------
        BenchError
            If there is no such block.
        """
        seat = self._wiring.blocks.of(self._plug(block).id)
        return "seated" if seat.on else "parked" if seat.parked else "off"

    @property
    def blocks(self) -> dict[str, str]:
        """Every plug-on terminal block and where it is: ``off``, ``parked`` or ``seated``."""
        return {name: self.block(name) for name in self._plugs()}

    def seated_on(self, block: str) -> str:
        """The header a block sits on, by the name of the block that belongs there; ``""`` if on none.

        Raises
        ------
        BenchError
            If there is no such block.
        """
        on: str = self._wiring.blocks.of(self._plug(block).id).on
        return on

    def park(self, block: str) -> None:
        """Hang a block beside its header for wiring: its clamps keep their wires and reach nothing.

        Raises
        ------
        BenchError
            If there is no such block, or it is parked already.
        """
        self._take_off("park", block, Seat(parked=True))

    def pull(self, block: str) -> None:
        """Pull a block off altogether, with its wires on it.

        Raises
        ------
        BenchError
            If there is no such block, or it is off already.
        """
        self._take_off("pull", block, Seat())

    def seat(self, block: str, on: str | None = None, loose: Iterable[str] = ()) -> None:
        """Push a block onto a header, its own if none is named; once more pushes it home.

        Parameters
        ----------
        on
            The header, by the name of the block that belongs there.
        loose
            Terminals of its clamps that do not reach, as on a block that is not pushed home.

        Raises
        ------
        BenchError
            If it does not go in: its coding does not match, it has too many poles, or another block is there.
        """
        plug, header = self._plug(block), self._plug(block if on is None else on)
        blocks: Blocks = self._wiring.blocks
        there = blocks.on(header.id, self._plugs())
        if there not in ("", plug.id):
            raise BenchError(
                f"{there} sits on header {header.id}",
                where=plug.id,
                try_this=f'pull("{there}") first',
                code="bench-block",
            )
        barred = why_not(plug, header, uncoded=header.id in blocks.uncoded)
        if barred:
            fits = [h.id for h in self._plugs().values() if not why_not(plug, h)]
            raise BenchError(
                barred,
                where=plug.id,
                try_this=f"{plug.id} goes on {', '.join(fits)}; compare the labels with the terminal plan",
                code="bench-block-coding",
            )
        apart = frozenset(self._pole(plug, terminal) for terminal in ((loose,) if isinstance(loose, str) else loose))
        if blocks.of(plug.id) == Seat(on=header.id, loose=apart):
            raise BenchError(
                f"{plug.id} sits on {header.id} already",
                where=plug.id,
                try_this=f'park("{plug.id}") or pull("{plug.id}") takes it off',
                code="bench-block",
            )
        words: dict[str, Any] = {"block": plug.id, "on": header.id}
        words |= {"loose": sorted(apart)} if apart else {}
        seat = Seat(on=header.id, loose=apart)
        self._rewire("seat", words, partial(self._wiring.put_blocks, blocks.put(plug.id, seat)))
        if seat == Seat(on=plug.id):
            for mend in tuple(self.on_swap):
                mend(plug.id)

    def uncode(self, header: str) -> None:
        """Pull a header's coding pins out: from then on any block with no more poles goes in.

        Raises
        ------
        BenchError
            If there is no such header, or its pins are out already.
        """
        plug = self._plug(header)
        blocks: Blocks = self._wiring.blocks
        if plug.id in blocks.uncoded:
            raise BenchError(f"the coding pins of {plug.id} are out already", where=plug.id, code="bench-block")
        bare = replace(blocks, uncoded=blocks.uncoded | {plug.id})
        self._rewire("uncode", {"header": plug.id}, partial(self._wiring.put_blocks, bare))

    def _take_off(self, verb: str, block: str, seat: Seat) -> None:
        plug = self._plug(block)
        blocks: Blocks = self._wiring.blocks
        if blocks.of(plug.id) == seat:
            raise BenchError(
                f"{plug.id} is {self.block(plug.id)} already",
                where=plug.id,
                try_this=f'seat("{plug.id}") pushes it on',
                code="bench-block",
            )
        self._rewire(verb, {"block": plug.id}, partial(self._wiring.put_blocks, blocks.put(plug.id, seat)))

    def _plugs(self) -> Mapping[str, Plug]:
        plugs: Mapping[str, Plug] = self.board.plugs
        return plugs

    def _plug(self, block: str) -> Plug:
        plugs = self._plugs()
        if block not in plugs:
            raise BenchError(
                f"there is no terminal block {block} on this board",
                where=str(block),
                try_this=did_you_mean(str(block), plugs, most=20),
                code="bench-block",
            )
        return plugs[block]

    def _pole(self, plug: Plug, terminal: str) -> str:
        if terminal not in plug.poles:
            raise BenchError(
                f"{plug.id} has no pole {terminal}",
                where=plug.id,
                try_this=did_you_mean(str(terminal), plug.poles, most=20),
                code="bench-block",
            )
        return terminal
