"""Random counterexamples on the orchard board, each replayed on the bench: how many, and which were not seen there.

Not a test by itself (it takes minutes): ``python tests/verify/replay_all.py [stories]``. ``test_against_bench.py``
does a part of it.
"""

from __future__ import annotations

import random
import sys
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from test_against_bench import MAY, SETUPS, random_program

from labkit.base import ms
from labkit.bench import Bench
from labkit.verify import prove

SIGNALS = ["K1", "pole:K1", "lit:P1", "S1", "M", "back:A1", "coil:K1", "K1_A", "T1.Q"]


def question(rng: random.Random) -> str:
    """A random requirement."""
    a, b = rng.sample(SIGNALS, 2)
    n = rng.randint(0, 5)
    return rng.choice(
        [
            f"never {a} and not {b}",
            f"whenever {a} then {b} within {n} scans",
            f"whenever {a} then not {b} for {n} scans",
            f"{a} only after {b}",
            f"{a} stays until {b}",
        ]
    )


def main(stories: int) -> None:
    """Prove until so many have failed."""
    count: Counter = Counter()
    lengths: list[int] = []
    seed = 0
    while len(lengths) < stories:
        seed += 1
        rng = random.Random(seed)
        name = rng.choice(sorted(SETUPS))
        family, scan_ms, ohm = SETUPS[name]
        bench = Bench("orchard", family=family, scan=ms(scan_ms))
        if ohm:
            bench.join("X1:24I", "A1:I2", ohm)
        bench.load(random_program(rng, scan_ms))
        asked, may = question(rng), rng.sample(MAY, rng.randint(2, 4))
        verdict = prove(bench, asked, may=may, most_states=20_000)
        count[verdict.outcome] += 1
        if verdict.outcome == "fails":
            lengths.append(verdict.depth)
            count[f"replayed {verdict.story.replayed}"] += 1
            if verdict.story.replayed is not True:
                print(f"seed {seed}: {name}, {asked}, may {may}: {verdict!r}", flush=True)
        if len(lengths) % 100 == 0 and verdict.outcome == "fails":
            print(dict(count), "longest", max(lengths), flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
