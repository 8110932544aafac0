"""``labkit tour``: the main job, headless, told step by step and written to a folder."""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, cast

import click
from rich.box import HORIZONTALS
from rich.console import Console
from rich.padding import Padding
from rich.table import Table

from labkit.base import ms, s, write_atomic

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from labkit.bench import Bench, Trace
    from labkit.bench.commissioning import Check, PointCheck

__all__ = ["tour"]

SEAL = """
  (* K1 holds itself through its own auxiliary *)
|   S1        S2                K1   |
|--| |---+---| |---+-----------( )---|
|        |  K1_A   |                 |
|        +---| |---+                 |
"""

SIGNALS = ("pos:S2", "volts:I2", "in:I2", "bit:S2", "bit:K1", "coil:K1", "pole:K1", "in:I10", "bit:K1_A")


class Teller:
    """Says what is found; keeps silent with ``--quiet``."""

    def __init__(self, quiet: bool) -> None:
        self.console = Console(quiet=quiet, width=128, highlight=False, soft_wrap=False)

    def step(self, number: int, title: str) -> None:
        self.console.print(f"\n[bold]{number}  {title}[/bold]")

    def say(self, text: str) -> None:
        self.console.print(f"   {text}", markup=False)

    def table(self, headings: Sequence[str], rows: Iterable[Sequence[str]], *, lines: bool = False) -> None:
        table = Table(box=HORIZONTALS if lines else None, show_lines=lines, pad_edge=False, padding=(0, 2, 0, 0))
        for heading in headings:
            table.add_column(heading, overflow="fold")
        for row in rows:
            table.add_row(*row)
        self.console.print(Padding(table, (0, 0, 0, 3)))


@click.command()
@click.option("--out", type=click.Path(path_type=Path, file_okay=False), default=Path("tour"), help="Folder to write.")
@click.option(
    "--table", "with_table", is_flag=True, help="Also run the five ways to hold a motor against twelve events."
)
@click.option("--quiet", is_flag=True, help="Print nothing but a failure.")
def tour(out: Path, with_table: bool, quiet: bool) -> None:
    """Wire the demo board, prove it dead, power it up, check it, run a lesson and mark it.

    Prints what it finds and writes timing diagrams (PNG, SVG), a checkout sheet (CSV) and mark sheets (HTML)
    to a folder. Ends with 1 if something was not as it should be.
    """
    tell = Teller(quiet)
    wrong = _commission(tell, out) + _press_twice(tell, out) + _lesson(tell, out)
    if with_table:
        wrong += _five_holds(tell, out)
    tell.say("")
    tell.say(f"everything is in {out}/")
    for line in wrong:
        click.echo(f"not as it should be: {line}", err=True)
    if wrong:
        raise SystemExit(1)


def _commission(tell: Teller, out: Path) -> list[str]:
    from labkit.bench import Bench
    from labkit.bench.commissioning import check_inputs, check_outputs, power_in_stages, prove_dead
    from labkit.board import check_wiring, load_board

    board = load_board("orchard")
    tell.step(1, "Wire the board")
    findings = check_wiring(board, board.wiring)
    tell.say(f"{board.title}: {len(board.parts)} parts, {len(board.wiring.wires)} wires, {len(findings)} finding(s)")
    wrong = [f"{f.code} at {f.terminal}: {f.what}" for f in findings if f.severity != "advice"]

    bench = Bench(board)
    tell.step(2, "Prove it dead, look for shorts")
    dead = prove_dead(bench)
    _checks(tell, dead)
    tell.step(3, "Power up in stages, emergency stop pressed")
    live = power_in_stages(bench)
    _checks(tell, live)
    tell.step(4, "Check every point, in and out")
    points = (*check_inputs(bench), *check_outputs(bench))
    _points(tell, points)
    write_atomic(out / "checkout.csv", _checkout_csv(points))
    wrong += [f"{c.what}: {c.reading}, expected {c.expected}" for c in (*dead, *live) if not c.ok]
    return wrong + [f"{p.point} {p.tag} does not follow" for p in points if not p.ok]


def _checks(tell: Teller, checks: Iterable[Check]) -> None:
    tell.table(
        ("reading", "meter", "expected", ""),
        [(c.what, c.reading, c.expected, "ok" if c.ok else "WRONG") for c in checks],
    )


def _points(tell: Teller, points: Iterable[PointCheck]) -> None:
    tell.table(
        ("point", "tag", "done", "before", "after", "indicator", "bit / load", "also changed"),
        [(p.point, p.tag, p.act, p.before, p.after, _yes(p.indicator), _yes(p.bit), " ".join(p.also)) for p in points],
    )


def _yes(ok: bool) -> str:
    return "follows" if ok else "DEAD"


def _checkout_csv(points: Iterable[PointCheck]) -> str:
    import csv

    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(["point", "tag", "done", "before", "after", "indicator", "bit_or_load", "also_changed"])
    for p in points:
        writer.writerow([p.point, p.tag, p.act, p.before, p.after, p.indicator, p.bit, " ".join(p.also)])
    return text.getvalue()


def _running(tell: Teller, press_ms: float) -> tuple[Bench, Trace]:
    from labkit.bench import Bench
    from labkit.logic import read_program

    bench = Bench("orchard")
    bench.power_up()
    bench.load(read_program(SEAL))
    bench.run()
    bench.wait(s(1))
    with bench.record() as trace:
        bench.wait(ms(10))
        bench.press("S2", ms(press_ms))
        bench.wait(ms(120))
    held = "holds" if bench.state("K1") == "closed" else "drops"
    tell.say(
        f"S2 pressed for {press_ms:g} ms: K1 {held}; K1:A1 to 0 V reads {bench.meter.volts('K1:A1', 'X1:0V').text}"
    )
    return bench, trace


def _press_twice(tell: Teller, out: Path) -> list[str]:
    from labkit.plots import ladder_svg, timing, timing_svg

    tell.step(5, "A seal through the auxiliary contact, pressed short and long")
    wrong = []
    for name, press_ms, expected in (("press-20-ms", 20.0, "open"), ("press-45-ms", 45.0, "closed")):
        bench, trace = _running(tell, press_ms)
        if bench.state("K1") != expected:
            wrong.append(f"{name}: K1 is {bench.state('K1')}, not {expected}")
        write_atomic(out / f"timing-{name}.svg", timing_svg(trace, SIGNALS))
        picture = io.BytesIO()
        figure = cast("Figure", timing(trace, SIGNALS).get_figure(root=True))
        figure.savefig(picture, format="png", dpi=110, metadata={"Software": None})
        write_atomic(out / f"timing-{name}.png", picture.getvalue())
    from labkit.logic import read_program

    write_atomic(out / "seal-in-ladder.svg", ladder_svg(read_program(SEAL)))
    return wrong


def _lesson(tell: Teller, out: Path) -> list[str]:
    from labkit.lessons import lesson, mark_files, model_answers, wrong_answer

    tell.step(6, "The seal-in lesson, a right and a wrong answer")
    wrong = []
    for student, slip in (("R. Vale", False), ("J. Moss", True)):
        work = lesson("seal-in", student=student)
        for task, answer in model_answers(work.source, work.variant).items():
            work.answer(task, answer["text"] if isinstance(answer, dict) and "text" in answer else answer)
        if slip:  # the branch begins one contact too far to the left: the seal spans the stop as well
            listed = next(w for w in work.source.file.wrong if w.program == "wrong_seal_spans_stop")
            work.answer("hold", wrong_answer(work.source, work.variant, listed)["text"])
        handed_in = work.hand_in(out)
        (outcome,) = mark_files([handed_in])
        sheet = outcome.sheet
        if sheet is None:
            wrong.append(f"{student}: {outcome.message}")
            continue
        write_atomic(out / f"{handed_in.stem}.html", sheet.to_html())
        tell.say(f"{student}: {outcome.message}")
        for line in sheet.lines:
            if line.points < line.out_of:
                tell.say(f"  {line.title}: {line.points:g} of {line.out_of:g}. {line.reason}")
        if sheet.passed is slip:
            wrong.append(f"{student}: {'passed' if sheet.passed else 'did not pass'}")
    return wrong


def _five_holds(tell: Teller, out: Path) -> list[str]:
    import csv

    from labkit.bench.experiments import HOLDS, Setup, hold_table, press_sweep

    tell.step(7, "Five ways to hold a motor, twelve events: each cell tried on benches of its own")
    heading, *rows = hold_table().rows()
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows([heading, *rows])
    write_atomic(out / "five-holds.csv", text.getvalue())
    tell.table(heading, rows, lines=True)
    for letter, (_, what) in HOLDS.items():
        tell.say(f"{letter}: {what}")
    tell.say("")
    wrong = []
    for scan_ms in (10, 20, 50):
        sweep = press_sweep(setup=Setup(scan=ms(scan_ms)))
        race = "shorter presses start it and let it drop" if sweep.race else "no race: what is seen, holds"
        tell.say(f"scan {scan_ms} ms: shortest press that always holds {sweep.shortest_us / 1000:g} ms; {race}")
        rule_us = -(-(25_000 + 4_000) // (scan_ms * 1000)) * scan_ms * 1000
        if sweep.shortest_us != rule_us:
            wrong.append(f"scan {scan_ms} ms: {sweep.shortest_us} us, the rule says {rule_us} us")
    return wrong
