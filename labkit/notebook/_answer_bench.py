"""The forms that are filled at a bench: a wiring, a sheet of readings, readings with predictions, a hunt."""

from __future__ import annotations

from collections.abc import Callable
from html import escape
from typing import Any

from ipywidgets import HTML, Box, Layout, Text, Textarea, VBox

from labkit.base import LabkitError
from labkit.faults import repair, strike
from labkit.notebook._answer_plain import NONE, WIDE, as_number, card, choice_field, labelled, named, no_number, push
from labkit.notebook._console import console

__all__ = ["BENCH_KINDS", "BenchDrawer", "wire_table"]

_WORD = Layout(width="104px")


class BenchDrawer(VBox):
    """A bench below a form, drawn only when somebody asks for it, until it is closed again.

    Parameters
    ----------
    fault_finding
        Whether conductors that are live are not shown, as on a real board.
    own
        Whether its benches are its own: the time of one that is closed then stands still.
    """

    def __init__(self, *, fault_finding: bool = False, own: bool = False) -> None:
        self._fault_finding = fault_finding
        self._own = own
        self._opener: Any = None
        self.bench: Any = None
        super().__init__([])

    def show(self, bench: Any, heading: str, opener: Any) -> None:
        """Show the bench with a meter beside it; another one takes the place of the first.

        Parameters
        ----------
        bench, heading
            What is shown, and the words above it.
        opener
            The button that asked for it: it has the focus again once the bench is closed.
        """
        from labkit.notebook.bench_view import BenchView
        from labkit.notebook.meter_view import MeterView

        self._opener = opener
        if bench is self.bench:
            return
        self._put_away()
        self.bench = bench
        live = False if self._fault_finding else None
        views = [BenchView(bench, live=live), MeterView(bench, predict=self._fault_finding)]
        shut = push("Close the bench", f"Close the bench: {heading}")
        shut.on_click(lambda _: self.shut())
        head = Box([HTML(f"<b>{escape(heading)}</b>", layout=Layout(flex="1 1 190px")), shut])
        head.layout = Layout(flex_flow="row wrap", align_items="center", max_width="780px")
        self.children = [head, *views]

    def shut(self) -> None:
        """Close the bench; the button that opened it has the focus again."""
        self._put_away()
        if self._opener is not None:
            self._opener.focus()

    def _put_away(self) -> None:
        views, self.children = self.children[1:], []
        if self.bench is not None and self._own:
            console(self.bench).stop()
        for view in views:
            view.close()
        self.bench = None


# a wiring ------------------------------------------------------------------------------------------
def wire_table(wiring: Any) -> str:
    """The landed wires as a page's table."""
    rows = "".join(
        "<tr>"
        + "".join(f"<td>{escape(str(v))}</td>" for v in (w.no, w.a, w.b, w.colour, f"{w.mm2:g}", f"{w.m:g}"))
        + "</tr>"
        for w in wiring
    )
    head = "".join(f"<th scope='col'>{t}</th>" for t in ("wire", "from", "to", "colour", "mm\N{SUPERSCRIPT TWO}", "m"))
    return _scroll("wires landed now", f"<table><tr>{head}</tr>{rows}</table>")


def _scroll(name: str, table: str, *, tall: bool = False) -> str:
    """A long or wide table in a window of its own, which the keyboard reaches too; a `tall` one is shown whole."""
    style = " style='max-height:none'" if tall else ""
    return f"<div class='lk-scroll' tabindex='0' role='region' aria-label='{name}'{style}>{table}</div>"


def _wiring(form: Any, _before: Any) -> list[Any]:
    bench = form.lesson.bench(form.task.setup)
    asked = "".join(
        "<tr>" + "".join(f"<td>{escape(str(v))}</td>" for v in point) + "</tr>" for point in form.task.points_asked
    )
    head = "".join(f"<th scope='col'>{t}</th>" for t in ("point", "tag", "device", "what it is"))
    listed = HTML()
    glance: list[object] = [None]

    def look() -> None:
        wires = tuple(bench.wiring)
        if wires != glance[0]:
            glance[0] = wires
            listed.value = f"<p>{len(wires)} wires are landed on the bench of this task:</p>{wire_table(wires)}"

    put = push("Put this wiring on the sheet")
    put.on_click(lambda _: form.put(bench))
    drawer = BenchDrawer()
    show = push("Show the bench to wire it")
    show.on_click(lambda _: drawer.show(bench, "In the board's tools choose the hand that changes wires", show))
    area = named(Textarea(rows=6, layout=WIDE, placeholder="no,a,b,colour,mm2,m,ferrule"), "a wire list as CSV")
    area.style.font_family = "monospace"
    typed = push("Put the typed list on the sheet")
    typed.on_click(lambda _: form.put(area.value) if area.value.strip() else form.refuse("the list is empty"))
    form.fields |= {"answer": put, "list": area}
    form.look = look
    form.hub_view = _HubView(look)  # the form keeps it: a hub holds its views weakly
    console(bench).join(form.hub_view)
    look()
    points = HTML(_scroll("points asked for", f"<table><tr>{head}</tr>{asked}</table>", tall=True))
    return [points, Box([put, show], layout=Layout(flex_flow="row wrap")), listed, drawer, area, typed]


class _HubView:
    """What a hub tells of changes on behalf of a form."""

    def __init__(self, look: Callable[[], None]) -> None:
        self.refresh = look


# readings ------------------------------------------------------------------------------------------
def _value(form: Any, row: Any, said: str) -> tuple[Any, bool]:
    """What a field holds as the sheet takes it, and whether it can be taken."""
    said = said.strip()
    if row.choices or (row.unit == "ohm" and said.upper() == "OL") or (row.mode == "diode" and said.upper() == "OL"):
        return (said.upper() if said.upper() == "OL" else said), True
    number = as_number(said, row.unit)
    if said and number is None:
        example = {"ohm": "330, 5.45 kohm or OL", "A": "0.3 or 300 mA"}.get(row.unit, "24 or 0.3 mV")
        form.refuse(no_number(said, row.unit, example), row.id)
    return number, number is not None


def _field(row: Any, value: Any, told: str) -> Any:
    if row.choices:
        return choice_field(row.choices, value, told, "104px")
    shown = "" if value is None else f"{value:g}" if isinstance(value, int | float) else str(value)
    field = named(Text(value=shown, placeholder=row.unit or "value", layout=_WORD), told)
    field.continuous_update = False
    return field


def _empty(said: str) -> bool:
    return said.strip() in ("", NONE)


def _words_of(row: Any) -> str:
    """What is read, in which situation, and where if that is not said yet."""
    place = "" if row.place in row.what.replace(":", " ").split() else row.place
    return f"{row.what} ({'; '.join(text for text in (row.situation, place) if text)})"


def _plain(value: Any) -> Any:
    return value.get("value") if isinstance(value, dict) else value


def _sheet(form: Any, before: Any) -> list[Any]:
    drawer = BenchDrawer(own=True)
    rows: list[Any] = []
    slots: list[VBox] = []
    for row in form.task.rows:
        slot = VBox([])  # the bench comes below the row that asked for it: the next stop of the Tab key
        field = _field(row, _plain((before or {}).get(row.id)), _words_of(row))

        def put(change: Any, row: Any = row) -> None:
            if _empty(change["new"]):
                form.take_off(row.id)
                return
            value, fits = _value(form, row, change["new"])
            if fits:
                at_ms = drawer.bench.now_us / 1000 if drawer.bench is not None else None
                form.put({row.id: value if at_ms is None else {"value": value, "at_ms": at_ms}}, told=_told(row, value))

        field.observe(put, "value")
        show = push("Bench", f"Show the bench: {row.situation}", "62px")

        def bring(_: Any, row: Any = row, slot: Any = slot, show: Any = show) -> None:
            if drawer.bench is not None and slot.children:
                form.say("the bench of this row is open already; close it first if you want a fresh one", good=True)
                return
            drawer.show(form.lesson.set_up(form.task.id, row.id), _words_of(row), show)
            for other in slots:
                other.children = [drawer] if other is slot else []
            form.say(f"the bench stands below this row: {_words_of(row)}", good=True)

        show.on_click(bring)
        form.fields[row.id], form.fields[f"{row.id}.bench"] = field, show
        slots.append(slot)
        rows.extend([labelled(_words_of(row), field, _unit(row), show), slot])
    return rows


def _told(row: Any, value: Any) -> str:
    """What was read of a typed figure, with its unit: a slip of the decimal sign shows."""
    return f"{value:g} {row.unit}".rstrip() if isinstance(value, int | float) else ""


def _unit(row: Any) -> HTML:
    return HTML(f"&nbsp;{escape(row.unit)}", layout=Layout(width="40px"))


def _drill(form: Any, before: Any) -> list[Any]:
    head = labelled(
        "what is read",
        HTML("<b>expected</b>", layout=_WORD),
        HTML("<b>read</b>", layout=_WORD),
        HTML(layout=Layout(width="106px")),
    )
    head.add_class("lk-reading").add_class("lk-head")
    return [
        head,
        *(_drill_row(form, row, (before or {}).get(row.id) or {}) for row in form.task.rows),
    ]


def _drill_row(form: Any, row: Any, before: Any) -> Any:
    """One reading: it is taken only once there is a prediction, and then the prediction stands."""
    told = _words_of(row)
    guess = _field(row, before.get("predicted"), f"expected: {told}")
    read = named(Text(value="", disabled=True, layout=_WORD), f"read: {told}")
    button = push("Read", f"Read at the bench: {told}", "62px")

    def show() -> None:
        now = (form.lesson.answers.get(form.task.id) or {}).get(row.id) or {}
        done = "read" in now
        read.value = (
            "" if not done else f"{now['read']:g}" if isinstance(now["read"], int | float) else str(now["read"])
        )
        guess.disabled, button.disabled = done, done or "predicted" not in now

    def predict(change: Any) -> None:
        if _empty(change["new"]):
            form.take_off(row.id)
            show()
            return
        value, fits = _value(form, row, change["new"])
        if fits:
            form.put({row.id: {"predicted": value}}, told=_told(row, value))
            show()

    def take(_: Any) -> None:
        if button.disabled:  # the second half of a double click
            return
        now = (form.lesson.answers.get(form.task.id) or {}).get(row.id) or {}
        try:
            bench = form.lesson.set_up(form.task.id, row.id)
            value = read_row(bench, row, now.get("predicted"))
        except LabkitError as wrong:
            form.say(str(wrong), good=False)
            return
        if form.put({row.id: {"read": value}}):
            form.say(f"{' '.join((f'read: {value}', row.unit)).strip()}, on the sheet", good=True)
        show()

    guess.observe(predict, "value")
    button.on_click(take)
    form.fields[row.id], form.fields[f"{row.id}.read"] = guess, button
    show()
    guess.add_class("lk-expected")
    read.add_class("lk-read")
    return labelled(told, guess, read, _unit(row), button).add_class("lk-reading")


def read_row(bench: Any, row: Any, expect: Any) -> Any:
    """Take a row's reading at a bench, with the prediction in the log beside it."""
    if row.mode in ("led", "lit", "bit"):
        return "on" if getattr(bench, row.mode)(*row.probes) else "off"
    if row.mode == "state":
        return bench.state(*row.probes)
    reading = getattr(bench.meter, row.mode)(*row.probes, expect=expect)
    if row.mode == "continuity":
        return "beep" if reading else "silent"
    return round(float(reading), 6) if abs(reading) != float("inf") else "OL"


# a hunt --------------------------------------------------------------------------------------------
def _hunt(form: Any, before: Any) -> list[Any]:
    task, before = form.task, before or {}
    place = choice_field(task.locations, before.get("location"), "where it is", "240px")
    cause = choice_field(task.causes, before.get("cause"), "what it is", "240px")
    drawer = BenchDrawer(fault_finding=True)
    show = push("Go to the bench")
    heading = "The bench with the fault; every reading that you note is in your log"
    show.on_click(lambda _: drawer.show(form.lesson.hunt_bench(task.id), heading, show))
    mended = choice_field(task.locations, None, "what is put right", "240px")
    mend = push("Put it right", "Exchange or remake what is chosen, on the bench", "110px")
    hand = push("Hand over the diagnosis and my log")

    def put_right(_: Any) -> None:
        if mended.value == NONE:
            form.say("choose first what is to be put right", good=False)
            return
        bench = form.lesson.hunt_bench(task.id)
        if bench.log and bench.log[-1].do in ("repair", "swap") and mended.value in bench.log[-1].what.values():
            form.say(f"{mended.value} has just been put right; whether that was it, only a test tells", good=True)
            return  # the second half of a double click: nobody changes a good part for another
        try:
            repair(bench, mended.value)
        except LabkitError as wrong:
            form.say(str(wrong), good=False)
            return
        console(bench).refresh()
        form.say(f"{mended.value} is as new; whether that was it, only a test tells", good=True)

    def put(_: Any) -> None:
        if NONE in (place.value, cause.value):
            form.say("say both: where it is, and what it is", good=False)
            return
        form.put({"location": place.value, "cause": cause.value})

    mend.on_click(put_right)
    hand.on_click(put)
    form.fields |= {"location": place, "cause": cause, "answer": hand, "mended": mended, "mend": mend}
    return [
        card(task.card),
        VBox([_suspect(form, *suspect) for suspect in task.suspects]),
        show,
        drawer,
        labelled("Where is it?", place),
        labelled("What is it?", cause),
        labelled("Put right, then test again:", mended, mend),
        hand,
    ]


def _suspect(form: Any, suspect: str, location: str, cause: str) -> Any:
    """One that it could be, until it is struck off; that stands in the log, for the method is marked too."""
    words = HTML(layout=Layout(flex="1 1 190px", max_width="420px"))
    off = push("Strike off", f"Strike off: {location}, {cause}", "90px")

    def show(struck: bool) -> None:
        told = f"{escape(location)}: <b>{escape(cause)}</b>"
        words.value = f"<s>{told}</s> (struck off)" if struck else told
        off.disabled = struck

    def put(_: Any) -> None:
        if off.disabled:  # the second half of a double click
            return
        strike(form.lesson.hunt_bench(form.task.id), suspect)
        show(True)
        form.say(f"struck off: {location}, {cause}; it stands in the log", good=True)

    struck = [done.what.get("suspect") for done in form.lesson.hunt_bench(form.task.id).log if done.do == "strike"]
    show(suspect in struck)
    off.on_click(put)
    form.fields[suspect] = off
    return Box([words, off], layout=Layout(align_items="center", max_width="560px"))


BENCH_KINDS: dict[str, Callable[[Any, Any], list[Any]]] = {
    "wiring": _wiring,
    "sheet": _sheet,
    "drill": _drill,
    "hunt": _hunt,
}
"""Task kind -> what builds its form's rows."""
