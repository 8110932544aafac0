"""The forms that need no bench: words in a table, one option, a number, a program, which faults could explain."""

from __future__ import annotations

import re
from collections.abc import Callable
from html import escape
from math import isfinite
from typing import Any

from ipywidgets import HTML, Box, Button, Dropdown, Layout, RadioButtons, Text, Textarea

from labkit.base import LabkitError
from labkit.notebook._page import picture

__all__ = [
    "NONE",
    "PLAIN_KINDS",
    "WIDE",
    "as_number",
    "card",
    "choice_field",
    "labelled",
    "named",
    "no_number",
    "prose",
    "push",
]

NONE = "-"
_SCALED = ("V", "A", "ohm")  # units whose display changes its range
_PREFIXES = {"m": 1e-3, "k": 1e3, "M": 1e6}
_CODE = re.compile(r"`([^`]+)`")
_OTHER_UNIT = re.compile(r"[+-]?\d+(?:[.,]\d+)?\s*([A-Za-z\u00b5\u2126\u03a9]{1,5})")
WIDE = Layout(width="auto", max_width="760px")


def labelled(text: str, *widgets: Any, bold: str = "") -> Box:
    """Words, and what is filled in beside them; on a narrow page below them."""
    more = f" <b>&nbsp;{escape(bold)}</b>" if bold else ""
    label = HTML(
        f"<div class='lk-words'>{prose(text)}{more}</div>",
        layout=Layout(flex="1 1 190px", max_width="500px", min_width="0"),
    )
    return Box([label, *widgets], layout=Layout(flex_flow="row wrap", align_items="center", max_width="780px"))


def named(field: Any, told: str) -> Any:
    """A field with a label for a screen reader; what is seen beside it says the same."""
    field.description = field.tooltip = told
    field.add_class("lk-named")
    return field


def choice_field(choices: Any, value: Any, told: str, width: str = "250px") -> Any:
    """A list to choose a word from; its name for a screen reader is `told`."""
    known = value if value in choices else NONE
    return named(Dropdown(options=[NONE, *choices], value=known, layout=Layout(width=width)), told)


def push(text: str, told: str = "", width: str = "auto") -> Button:
    """A button as wide as its words, or of a width that fits into a row."""
    place = "flex-start" if width == "auto" else "center"
    return Button(description=text, tooltip=told or text, layout=Layout(width=width, align_self=place))


def prose(text: str) -> str:
    """Words of a lesson as a page's: escaped, and what stands between backticks as code."""
    return _CODE.sub(r"<code>\1</code>", escape(text))


def card(lines: Any) -> HTML:
    """What was reported or seen, as a card."""
    said = "".join(f"<div>{prose(str(line))}</div>" for line in lines)
    return HTML(
        f"<div class='lk-words' style='border-left:4px solid var(--jp-content-font-color1); padding:2px 10px;"
        f" margin:4px 0'>{said}</div>"
    )


def as_number(text: str, unit: str) -> float | None:
    """The number in a text, with or without its unit or as a meter shows it (`0.3 mV`, `5.45 kohm`); None if none."""
    said, size = text.strip(), 1.0
    if unit and said.endswith(unit):
        said = said.removesuffix(unit).rstrip()
        if unit in _SCALED and said[-1:] in _PREFIXES:
            said, size = said[:-1], _PREFIXES[said[-1]]
            if unit == "ohm" and size < 1:
                return None
    try:
        number = round(float(said.replace(",", ".")) * size, 9)
    except ValueError:
        return None
    return number if isfinite(number) else None


def no_number(text: str, unit: str, example: str) -> str:
    """Why a text is no answer in a unit: it is none, or one in another unit."""
    found = _OTHER_UNIT.fullmatch(text)
    if found and unit:
        return f"{text!r} is in {found[1]}, and this is asked in {unit}; write for example {example}"
    return f"{text!r} is not a number; write for example {example}"


def _table(form: Any, before: Any) -> list[Any]:
    rows = []
    for cell, row, column, choice in form.task.cells:
        drop = choice_field(choice, (before or {}).get(cell), f"{row}, {column}")
        drop.observe(lambda c, cell=cell: _chosen(form, cell, c["new"]), "value")
        form.fields[cell] = drop
        rows.append(labelled(row, drop, bold=column))
    return rows


def _chosen(form: Any, part: str, word: str) -> None:
    """A word was chosen in a list, or none."""
    if word == NONE:
        form.take_off(part)
    else:
        form.put({part: word})


def _choice(form: Any, before: Any) -> list[Any]:
    options = [("not answered yet", NONE), *((text, option) for option, text in form.task.options)]
    radio = named(RadioButtons(options=options, value=before or NONE, layout=WIDE), "the answer")
    radio.observe(lambda c: form.take_off() if c["new"] == NONE else form.put(c["new"]), "value")
    form.fields["answer"] = radio
    return [radio]


def _quantity(form: Any, before: Any) -> list[Any]:
    unit = form.task.unit
    shown = "" if not before else before if isinstance(before, str) else _shown(before.get("value"))
    text = named(Text(value=shown, placeholder=f"a number, in {unit}", layout=WIDE), f"the answer, in {unit}")
    text.continuous_update = False

    def typed(change: Any) -> None:
        said = change["new"].strip()
        if unit == "ohm" and said.upper() == "OL":
            form.put("OL")
            return
        if not said:
            form.take_off()
            return
        number = as_number(said, unit)
        if number is None:
            form.refuse(no_number(said, unit, f"30 or 30 {unit}"))
            return
        form.put((number, unit), told=f"{number:g} {unit}")

    text.observe(typed, "value")
    form.fields["answer"] = text
    text.layout = Layout(flex="0 1 300px", min_width="0")
    beside = HTML(f"&nbsp;{escape(unit)}", layout=Layout(flex="none"))
    return [Box([text, beside], layout=Layout(align_items="center"))]


def _shown(value: Any) -> str:
    return f"{value:g}" if isinstance(value, int | float) else str(value or "")


def _program(form: Any, before: Any) -> list[Any]:
    start = form.task.start_from
    area = Textarea(value=(before or {}).get("text", start), rows=9, layout=WIDE)
    named(area, "the program")
    area.style.font_family = "monospace"  # columns carry meaning in ladder text
    button = push("Put on the sheet", "Read the program and write it on the answer sheet")
    drawn = HTML(layout=Layout(max_width="760px", overflow="auto"))

    def put(_: Any = None) -> None:
        if not area.value.strip():
            form.refuse("the field is empty, and an empty program is none")
            return
        drawn.value = _drawing(area.value) if form.put(area.value) else ""

    def pending() -> None:
        now = (form.lesson.answers.get(form.task.id) or {}).get("text", start)
        if area.value.strip() and area.value != now:
            put()

    button.on_click(put)
    form.fields["answer"], form.pending = area, pending
    drawn.value = _drawing(area.value) if before else ""
    return [area, button, drawn]


def _drawing(text: str) -> str:
    """The program as it was read, drawn: what a student sees there is what will be tried."""
    from labkit.logic import layout, read_program
    from labkit.plots import ladder_svg

    try:
        return picture(ladder_svg(layout(read_program(text))), f"The program as it was read\n{text}")
    except LabkitError:
        return ""  # the form has said what is wrong with it


def _could_explain(form: Any, before: Any) -> list[Any]:
    rows: list[Any] = [card(form.task.card)]
    for suspect, location, cause in form.task.suspects:
        told = f"{location}, {cause}"
        drop = choice_field(form.task.choices, (before or {}).get(suspect), told, "150px")
        drop.observe(lambda c, suspect=suspect: _chosen(form, suspect, c["new"]), "value")
        form.fields[suspect] = drop
        rows.append(labelled(f"{location}:", drop, bold=cause))
    return rows


PLAIN_KINDS: dict[str, Callable[[Any, Any], list[Any]]] = {
    "predict": _table,
    "choice": _choice,
    "program": _program,
    "number": _quantity,
    "reading": _quantity,
    "could-explain": _could_explain,
}
"""Task kind -> what builds its form's rows."""
