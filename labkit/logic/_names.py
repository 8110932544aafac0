"""Checks that need the whole program: what each name is, and whether it is used as that.

Each reader builds its rungs first and then calls :func:`check_names`; the helpers before it make single nodes.
"""

from __future__ import annotations

from labkit.base import did_you_mean
from labkit.logic._source import Comment, Source
from labkit.logic._words import Folder, check_name, count_literal, time_literal
from labkit.logic.blocks import BLOCKS, BlockType
from labkit.logic.nodes import Block, Coil, Constant, Contact, Power, Preset, Rung, Span, Variable, elements, nesting

__all__ = ["Names", "check_names", "titled"]

_WRONG_PRESET = {
    "PT": ("a time", "a time such as T#200ms"),
    "PV": ("a whole number", "a whole number such as 5"),
}


class Names:
    """What the declarations say, and single nodes made from words."""

    def __init__(self, source: Source, fold: Folder, declarations: tuple[Variable, ...]) -> None:
        self.source = source
        self.fold = fold
        self.declared = {v.name: v for v in declarations}

    def contact(self, text: str, kind: str, span: Span) -> Contact | Constant:
        """A contact on the name `text`, which may be TRUE, FALSE or a block output such as T1.Q."""
        if text.upper() in {"TRUE", "FALSE"}:
            return Constant((text.upper() == "TRUE") != (kind == "/"), span=span)
        if count_literal(self.source, text, span) is not None:
            raise self.source.slip("not-bool", span, name=text, kind="a number", better="T1.Q, or write TRUE or FALSE")
        if text.upper().startswith(("T#", "TIME#")):
            raise self.source.slip("not-bool", span, name=text, kind="a time", better="T1.Q")
        instance, dot, pin = text.partition(".")
        check_name(self.source, instance, span)
        name = self.fold(instance, span)
        if dot:
            if not pin or not pin.isidentifier():
                raise self.source.slip("name-sign", span, name=text)
            name = f"{name}.{pin.upper()}"
        return Contact(name, kind, span=span)

    def target(self, text: str, span: Span) -> str:
        """A name that a coil or an assignment may write."""
        if text.upper() in {"TRUE", "FALSE"}:
            raise self.source.slip("write-to-constant", span, name=text, kind="a constant")
        if "." in text and not text.startswith("%"):
            raise self.source.slip("write-to-constant", span, name=text, kind="the output of a block")
        check_name(self.source, text, span)
        name = self.fold(text, span)
        known = self.declared.get(name)
        if known and known.constant:
            raise self.source.slip("write-to-constant", span, name=text, kind="declared CONSTANT")
        return name

    def block_type(self, text: str, span: Span) -> BlockType:
        """The standard block called `text`."""
        kind = BLOCKS.get(text.upper())
        if kind is None:
            raise self.source.slip("block-unknown", span, name=text, hint=did_you_mean(text.upper(), BLOCKS, most=0))
        return kind

    def preset(self, kind: BlockType, text: str, span: Span) -> Preset:
        """The value on a PT or PV pin: a literal, or a variable declared with a starting value."""
        time, count = time_literal(self.source, text, span), count_literal(self.source, text, span)
        value = time if kind.is_timer else count
        if value is None and time is None and count is None:
            check_name(self.source, text, span)
            known = self.declared.get(self.fold(text, span))
            if known and known.type == ("TIME" if kind.is_timer else "INT"):
                return Preset(known.initial, known.name, span)
        if value is None or (kind.is_timer and value.value < 0):
            takes, better = _WRONG_PRESET[kind.preset]
            raise self.source.slip("preset-wrong", span, text=text, pin=kind.preset, kind=takes, better=better)
        return value

    def finish_block(
        self,
        kind: BlockType,
        instance: str,
        span: Span,
        *,
        fed: bool,
        inputs: list[tuple[str, Power]],
        presets: list[tuple[str, Preset]],
        outputs: list[tuple[str, str]],
    ) -> Block:
        """The block node, once its pins are known; pins in the order of the standard."""
        if not fed:
            raise self.source.slip("pin-unfed", span, pin=kind.inputs[0], name=instance)
        if kind.preset and not presets:
            why = "it does not know how long to time" if kind.is_timer else "it does not know how far to count"
            better = f"{kind.preset} := " + ("T#200ms" if kind.is_timer else "5")
            raise self.source.slip("preset-missing", span, name=instance, pin=kind.preset, why=why, better=better)
        inputs.sort(key=lambda item: kind.inputs.index(item[0]))
        outputs.sort(key=lambda item: kind.outputs.index(item[0]))
        return Block(instance, kind.name, tuple(inputs), tuple(presets), tuple(outputs), span=span)


def check_names(source: Source, rungs: tuple[Rung, ...], declared: dict[str, Variable]) -> None:
    """What needs every rung: blocks called once, outputs that exist, BOOL where BOOL is due, bounds.

    Raises
    ------
    SlipError
        At the first place that does not fit.
    """
    called: dict[str, Block] = {}
    total = 0
    for rung in rungs:
        depth = nesting(rung.network)
        source.within("nesting", depth, rung.span)
        count = 0
        for e in elements(rung.network):
            count += 1
            if isinstance(e, Block):
                if e.instance in called:
                    line = called[e.instance].span.line
                    raise source.slip("block-twice", e.span, name=e.instance, line=line, better=f"{e.instance}_2")
                called[e.instance] = e
                _check_type(source, e, declared.get(e.instance))
        source.within("rung elements", count, rung.span)
        total += count
    source.within("elements", total, Span(1, 1))
    for rung in rungs:
        for e in elements(rung.network):
            if isinstance(e, Contact):
                _check_read(source, e, called, declared)
            elif isinstance(e, Coil):
                _check_bool(source, e.name, e.span, called, declared, written=True)
            elif isinstance(e, Block):
                for _, name in e.outputs:
                    _check_bool(source, name, e.span, called, declared, written=True)


def _check_type(source: Source, block: Block, known: Variable | None) -> None:
    if known and known.type not in BLOCKS:
        raise source.slip("block-name-clash", block.span, name=block.instance)
    if known and known.type != block.type:
        raise source.slip("block-type-clash", block.span, name=block.instance, declared=known.type, drawn=block.type)


def _check_read(source: Source, e: Contact, called: dict[str, Block], declared: dict[str, Variable]) -> None:
    instance, dot, pin = e.name.partition(".")
    if not dot:
        _check_bool(source, e.name, e.span, called, declared)
        return
    block = called.get(instance)
    if block is None:
        hint = did_you_mean(instance, called, most=0)
        raise source.slip("block-never-called", e.span, name=e.name, instance=instance, hint=hint)
    kind = BLOCKS[block.type]
    if pin in kind.outputs:
        return
    if pin and pin in (kind.value, kind.preset):
        what = "a time" if kind.is_timer else "a number"
        raise source.slip("not-bool", e.span, name=e.name, kind=what, better=f"{instance}.{kind.outputs[0]}")
    raise source.slip(
        "pin-unknown", e.span, type=kind.name, side="output ", pin=pin, pins=", ".join(kind.pins),
        hint=f"Its outputs are {', '.join(kind.outputs)}.",
    )  # fmt: skip


def _check_bool(
    source: Source,
    name: str,
    span: Span,
    called: dict[str, Block],
    declared: dict[str, Variable],
    *,
    written: bool = False,
) -> None:
    known = declared.get(name)
    if name in called:
        if known is None or written:
            raise source.slip("block-name-clash", span, name=name)
        better = f"{name}.{BLOCKS[called[name].type].outputs[0]}"
        raise source.slip("not-bool", span, name=name, kind="a block", better=better)
    if known and known.type != "BOOL":
        kind = {"TIME": "a time", "INT": "a number"}.get(known.type, "a block")
        better = "T1.Q" if known.type in {"TIME", "INT"} else f"{name}.{BLOCKS[known.type].outputs[0]}"
        raise source.slip("not-bool", span, name=name, kind=kind, better=better)


def titled(comments: list[Comment]) -> tuple[str, str]:
    """A rung's title (the first line of its comments) and the rest."""
    title, _, rest = "\n".join(c.text for c in comments if c.text).partition("\n")
    return title.strip(), rest.strip("\n")
