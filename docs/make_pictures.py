"""Makes every picture of docs/pictures from the bench: python docs/make_pictures.py

Nothing here is drawn by hand; a picture that changes is a drawing or a bench that changed.
"""

from __future__ import annotations

from pathlib import Path

from labkit.base import ms, s, write_atomic
from labkit.bench import Bench
from labkit.board import Wiring
from labkit.logic import layout, read_ladder, walker
from labkit.plots import (
    bench_svg,
    board_svg,
    control_circuit_svg,
    draw_ladder,
    input_bands,
    ladder_svg,
    timing,
    timing_svg,
)

HERE = Path(__file__).parent / "pictures"

HOLD = """
(* K1 holds itself through its own auxiliary
   S1 is wired normally closed: its bit is 1 until it is pressed *)
|   S1        S2        F3_T      K1   |
|--| |---+---| |---+----|/|------( )---|
|        |  K1_A   |                   |
|        +---| |---+                   |

(* The lamps show proof, not command *)
|  K1_A                           P1   |
|--| |---------------------------( )---|

|  K1_A                           P2   |
|--|/|---------------------------( )---|
"""

ROWS = ["pos:S2", "volts:I2", "in:I2", "S2", "K1", "volts:Q1", "coil:K1", "pole:K1", "K1_A", "lit:P1"]


def seal_in() -> Bench:
    """A bench that runs the program, one second after it started."""
    bench = Bench("orchard")
    bench.power_up()
    bench.load(read_ladder(HOLD, name="hold"))
    bench.run()
    bench.wait(s(1))
    return bench


def main() -> None:
    """Write all pictures."""
    bench = seal_in()
    bands = input_bands(bench.engine.net.electrical)
    with bench.record() as trace:
        bench.wait(ms(13))
        pressed = bench.now_us
        bench.press("S2", ms(45))
        bench.wait(ms(120))
        working = bench_svg(bench, follow=["201", "211", "221", "110", "130"], title="The pump runs")
        bench.remove("K1.aux")
        bench.wait(ms(120))
    start = trace.start_us
    shown = {"volts:I2": bands["volts:I2"]}
    marks = [(pressed + 45_000, "S2 opens, K1 holds"), (trace.signals["bit:K1"].falls()[0], "here it drops")]
    save("timing-seal-in.svg", timing_svg(trace, ROWS, bands=shown, marks=marks, zero=start))
    ax = timing(trace, ROWS, bands=shown, marks=marks, zero=start)
    ax.get_figure().savefig(HERE / "timing-seal-in.png", dpi=110, metadata={"Software": None})
    save(
        "timing-one-scan.svg",
        timing_svg(
            trace,
            ["in:I2", "S2", "K1", "out:Q1", "volts:Q1"],
            span=(pressed + 6_800, pressed + 7_700),
            zero=start,
            title="One scan, enlarged",
        ),
    )

    with bench.record() as long:
        bench.fit("K1.aux")
        for _ in range(6):
            bench.press("S2", ms(200))
            bench.wait(s(3))
            bench.press("S1", ms(200))
            bench.wait(s(2))
    save(
        "timing-thirty-seconds.svg",
        timing_svg(long, ["pos:S2", "pos:S1", "K1", "pole:K1", "lit:P1"], zero=long.start_us),
    )

    race()
    program = read_ladder(HOLD, name="hold")
    plan = layout(program)
    walk = walker(plan.program)
    rest = {"S1": True, "S2": False, "K1_A": False, "F3_T": False}
    walk.scan(rest, 0)
    held = walk.scan(rest | {"K1_A": True}, 10_000)
    save("ladder.svg", ladder_svg(plan))
    save("ladder-held.svg", ladder_svg(plan, held))
    draw_ladder(plan, flow=held).get_figure().savefig(HERE / "ladder-held.png", dpi=110, metadata={"Software": None})

    board = bench.board
    save("board.svg", board_svg(board))
    save("board-working.svg", working)
    few = Wiring(tuple(w for w in board.wiring if w.no in {"1", "2", "4", "7", "16", "17", "18", "201", "211", "221"}))
    save("board-coil-path.svg", board_svg(board, wiring=few, title="The wires of the coil's path"))
    save("board-all-wires.svg", board_svg(board, follow="all"))
    save("control-circuit.svg", control_circuit_svg(board))


def race() -> None:
    """The README's picture: 25 ms pull-in, 4 ms filter, 10 ms scan, so 20 ms is too short and 45 ms holds."""
    bench = seal_in()
    with bench.record() as trace:
        bench.wait(ms(13))
        bench.press("S2", ms(20))
        bench.wait(ms(77))
        bench.press("S2", ms(45))
        bench.wait(ms(90))
    start = trace.start_us
    missed, held = trace.signals["bit:K1"].falls()[0], trace.signals["bit:K1_A"].rises()[0]
    marks = [(missed, "20 ms of coil: not pulled in yet"), (held, "fed back while S2 is still seen: K1 holds")]
    rows = ["pos:S2", "S2", "K1", "coil:K1", "pole:K1", "K1_A", "lit:P1"]
    how = {"marks": marks, "zero": start, "title": "A press of 20 ms is too short for this seal, one of 45 ms holds"}
    timing(trace, rows, **how).get_figure().savefig(HERE / "seal-race.png", dpi=110, metadata={"Software": None})
    save("seal-race.svg", timing_svg(trace, rows, **how))


def save(name: str, svg: str) -> None:
    """Write one SVG picture."""
    write_atomic(HERE / name, svg)


if __name__ == "__main__":
    main()
