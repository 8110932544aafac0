"""Which name stands over which element."""

from __future__ import annotations

from collections.abc import Sequence

from labkit.logic._scan_ladder import Box, Mark, Scan, Word
from labkit.logic._source import Source
from labkit.logic.nodes import Span

__all__ = ["attach_names"]

_NEAR = 3  # columns a name may stand beside its element
_LOOSE = 8  # the same, where there are as many names as elements and their order leaves no doubt


def attach_names(source: Source, scan: Scan, words: Sequence[Word]) -> dict[Mark | Box, Word]:
    """The name of every contact, coil and box.

    Raises
    ------
    SlipError
        If an element has no name, a name no element, or one name stands above two.
    """
    by_row: dict[int, list[Mark | Box]] = {}
    things: list[Mark | Box] = [*scan.marks, *scan.boxes]
    for thing in things:
        by_row.setdefault(thing.top, []).append(thing)
    named: dict[Mark | Box, Word] = {}
    rows: dict[int, list[Word]] = {}
    for word in words:
        if {(word.row, word.col - 1), (word.row, word.end + 1)} & {p for p, c in _beside(scan, word) if c in "-+"}:
            raise source.slip("name-on-wire", word.span, name=word.text)
        rows.setdefault(word.row, []).append(word)
    for row, found in sorted(rows.items()):
        # the element row is the next one, or the one after it if somebody left a line free
        target = next((r for r in (row + 1, row + 2) if r in by_row and (r == row + 1 or row + 1 not in rows)), None)
        if target is None:
            raise source.slip("name-stray", found[0].span, name=found[0].text)
        _match(source, sorted(found, key=lambda w: w.col), sorted(by_row[target], key=lambda t: t.col), named)
    for row, same_row in sorted(by_row.items()):
        for thing in sorted(same_row, key=lambda t: t.col):
            if thing not in named:
                above = [w for r in (row - 1, row - 2) for w in rows.get(r, [])]
                raise _unnamed(source, thing, above)
    return named


def _beside(scan: Scan, word: Word) -> list[tuple[tuple[int, int], str]]:
    places = ((word.row, word.col - 1), (word.row, word.end + 1))
    return [(p, scan.wires[p]) for p in places if p in scan.wires]


def _gap(word: Word, thing: Mark | Box) -> int:
    return max(0, word.col - thing.end, thing.col - word.end)


def _match(source: Source, words: list[Word], things: list[Mark | Box], named: dict[Mark | Box, Word]) -> None:
    """Pair one row of words with one row of elements."""
    if len(words) == len(things) and all(_gap(w, t) <= _LOOSE for w, t in zip(words, things, strict=True)):
        named.update(zip(things, words, strict=True))
        return
    for word in words:
        thing = min(things, key=lambda t: (_gap(word, t), abs(word.col + word.end - t.col - t.end)))
        if _gap(word, thing) > _NEAR:
            raise source.slip("name-stray", word.span, name=word.text)
        if thing in named:
            other = named[thing]
            if other.row == word.row and word.col - other.end <= 3:
                span = Span(other.row + 1, other.col + 1, word.end - other.col + 1)
                both = f"{other.text} {word.text}"
                raise source.slip("name-space", span, name=both, better=f"{other.text}_{word.text}")
            worse = max(word, other, key=lambda w: _gap(w, thing))
            raise source.slip("name-stray", worse.span, name=worse.text)
        named[thing] = word


def _unnamed(source: Source, thing: Mark | Box, above: list[Word]) -> Exception:
    if isinstance(thing, Box):
        return source.slip("block-unnamed", thing.span, type=thing.type_word.text.upper())
    over = next((w for w in above if _gap(w, thing) <= 1), None)
    if over:
        return source.slip("name-over-two", over.span, name=over.text)
    return source.slip("contact-unnamed", thing.span, kind=thing.kind)
