"""Programs made to break a proof end at a stated bound, in bounded memory, and can be stopped.

Each runs in a process of its own with limits set by the operating system: address space and processor seconds are
guards against a hang, and the most memory that was resident is read afterwards.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from labkit.verify import prove
from labkit.verify._lanes import MOST_INPUTS, MOST_WORK
from labkit.verify._map import MOST_ROWS
from labkit.verify.prove import MOST_SLOW_STATES

resource = pytest.importorskip("resource", reason="the limits of a process are set through the resource module")

MOST_MB = 500
SECONDS = 200

CHILD = """
import json, resource, sys
resource.setrlimit(resource.RLIMIT_AS, (3 << 30, 3 << 30))
resource.setrlimit(resource.RLIMIT_CPU, ({seconds}, {seconds}))
from labkit.bench import Bench
from labkit.verify import prove
text, asked, board, may = json.load(sys.stdin)
verdict = prove(text, asked, board=board, may=may)
try:  # Linux: what this program itself held; ru_maxrss would count the process it was forked from
    with open("/proc/self/status") as status:
        mb = next(int(line.split()[1]) for line in status if line.startswith("VmHWM:")) / 1024
except OSError:
    used = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    mb = used / (1024 if sys.platform != "darwin" else 1 << 20)
print(json.dumps([verdict.outcome, verdict.bound, verdict.states, verdict.depth, mb]))
"""


def run(text: str, asked: str, board: str | None = None, may: list[str] | None = None):
    """Outcome, bound, states, depth, megabytes."""
    done = subprocess.run(
        [sys.executable, "-c", CHILD.format(seconds=SECONDS)],
        input=json.dumps([text, asked, board, may]),
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-2000:]
    return json.loads(done.stdout)


def timers(count: int, ms: int, inputs: int | None = None) -> str:
    """Independent on-delays, and an output that wants all."""
    head = "VAR " + " ".join(f"T{n} : TON;" for n in range(count)) + " END_VAR\n"
    calls = [f"T{n}(IN := A{n % (inputs or count)} XOR T{n}.Q, PT := T#{ms}ms);" for n in range(count)]
    return head + "\n".join(calls) + "\nK := " + " AND ".join(f"T{n}.Q" for n in range(count)) + ";"


def counters(count: int, preset: int) -> str:
    """Independent counters up."""
    head = "VAR " + " ".join(f"C{n} : CTU;" for n in range(count)) + " END_VAR\n"
    calls = [f"C{n}(CU := A{n}, R := B{n}, PV := {preset});" for n in range(count)]
    return head + "\n".join(calls) + "\nK := " + " AND ".join(f"C{n}.Q" for n in range(count)) + ";"


def mixed(count: int) -> str:
    """Memories with an input each that feed each other: every set of inputs leads to a state of its own."""
    lines = [f"M{n} := A{n} XOR M{(n + 1) % count} XOR M{(n + 7) % count};" for n in range(count)]
    return "\n".join(lines) + "\nK := " + " AND ".join(f"M{n}" for n in range(count)) + " AND NOT A0 AND NOT M0;"


def tangled(count: int) -> str:
    """As many rungs as are read, each with three others in it; nothing can be left out."""
    lines = [
        f"M{n} := (A AND M{(n * 7 + 1) % count}) OR (B XOR M{(n * 13 + 5) % count}) AND NOT M{(n * 29 + 3) % count};"
        for n in range(count)
    ]
    return "\n".join(lines) + "\nK := M0 AND NOT M0;"


DEEP = "K := " + "(A XOR M OR " * 25 + "B" + ")" * 25 + ";\nM := K XOR M;"


@pytest.mark.parametrize(
    ("text", "bound"),
    [
        pytest.param(timers(3, 3_600_000), f"{MOST_WORK} gates", id="three timers of an hour"),
        pytest.param(timers(40, 500), f"{1 << 40} combinations", id="forty timers"),
        pytest.param(counters(3, 32_767), f"{MOST_WORK} gates", id="three counters to 32767"),
        pytest.param(mixed(40), f"{1 << 40} combinations", id="forty inputs"),
        pytest.param(mixed(20), f"{MOST_WORK} gates", id="twenty inputs, a million successors"),
    ],
)
def test_undecided_at_a_stated_bound(text, bound):
    outcome, said, states, depth, mb = run(text, "never K")
    assert outcome == "undecided"
    assert said.startswith(bound)
    assert states >= 1
    assert depth >= 0
    assert mb < MOST_MB


def test_large_and_yet_decided():
    """Size alone is no bound: what does not matter is left out, and what is deep and narrow is walked."""
    outcome, _, _, _, mb = run(tangled(550), "never K and not K")
    assert outcome == "holds"
    assert mb < MOST_MB
    outcome, _, _, depth, mb = run(counters(1, 20_000), "never K")
    assert (outcome, depth) == ("fails", 39_999)  # on, off, on ...: two scans for each but the last
    assert mb < MOST_MB
    assert run(DEEP, "never K and not K")[0] == "holds"


def test_many_rungs_that_all_matter():
    outcome, said, _, _, mb = run(tangled(300), "whenever K then not K")
    assert (outcome, said) == ("holds", "") or said
    assert mb < MOST_MB


def test_a_board_with_everything_moving():
    """Twenty wires that may come off at any moment: too many for one scan, and it is said so."""
    wires = [f"wire:{no}" for no in (101, 102, 103, 104, 105, 106, 107, 108, 109, 110, 111, 112)]
    program = "K1 := S1 AND (S2 OR K1); P1 := K1_A; P2 := NOT K1_A; P3 := F3_T; P4 := S6; P5 := S5;"
    outcome, said, _, _, mb = run(program, "never K1 and P3 and not S1", "orchard", ["S1", "S2", "S4", "S0", *wires])
    assert outcome == "undecided"
    assert "combinations of what may happen" in said
    assert mb < MOST_MB


def test_the_bounds_of_the_caller_are_named():
    verdict = prove(timers(3, 60_000), "never K", most_states=20_000)
    assert verdict.outcome == "undecided"
    assert verdict.bound == "20000 states"
    assert verdict.states > 20_000
    verdict = prove(timers(3, 60_000), "never K", most_scans=30)
    assert (verdict.bound, verdict.depth) == ("30 scans", 30)


INTERRUPTED = """
import _thread, signal, threading
from labkit.verify import prove
signal.signal(signal.SIGINT, signal.default_int_handler)  # a background job is started with it ignored
text = {text!r}
threading.Timer({after}, _thread.interrupt_main).start()
try:
    print(prove(text, "never K"))
except KeyboardInterrupt:
    print("stopped", prove("K1 := S1 AND (S2 OR K1);", "whenever not S1 then not K1"))
"""


@pytest.mark.parametrize("after", [0.4, 1.5])
def test_an_interrupt_is_clean(after):
    """In the first look as well as deep in numpy: the next proof in the same process is as it should be."""
    program = INTERRUPTED.format(text=timers(3, 3_600_000), after=after)
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)
    assert done.stdout == "stopped holds: 2 states, all visited\n", done.stderr


def test_the_page_names_the_bounds():
    page = (Path(__file__).parents[2] / "docs/explanation/proof.md").read_text(encoding="utf-8")
    assert f"More than {MOST_INPUTS} free inputs" in page
    assert f"{MOST_WORK:,} units of work" in page
    assert f"{MOST_ROWS:,} rows" in page
    assert f"{MOST_SLOW_STATES:,} states" in page
