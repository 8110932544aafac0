"""Print ``docs/reference/failure-effects.md``: stop and start wired in each way, and what each earth fault takes away.

Run from the top of the repository: ``python docs/make_effects.py``.
"""

from __future__ import annotations

from pathlib import Path

from labkit.verify import STOP_START, Off, earth_faults, failure_effects, stop_start_bench

PAGE = Path(__file__).resolve().parent / "reference" / "failure-effects.md"

HEAD = """\
# Which fault takes the stop away?

Stop and start of the orchard board, wired in eight ways: the stop contact breaks (NC) or makes (NO), the contacts lie
on the + or on the 0 V side of the inputs, 0 V is bonded to earth or floating. In each way every fault below is there
from the start, and three requirements are proved: stop still stops, it starts only when asked, it can still be started.

`labkit effects PROGRAM --require "..."` makes such a table for your program and every single fault of the catalogue.
This page is printed by `python docs/make_effects.py`.

| sign | what it means |
|---|---|
| **no stop** | the stop button no longer stops |
| **by itself** | it starts without being asked |
| no start | it cannot be started; with "fuse" the fault is a short that opens F1 |
| - | all three still hold |

"""

TAIL = """
What it teaches: with 0 V bonded, an earth fault on a contact's wire on the + side is a short: the fuse opens, and it
stops. On the 0 V side it bypasses the contact, and no fuse opens. Floating, the first earth fault does nothing that
anybody at the board sees, and a second one on the same pole bypasses the contact between them: a floating supply needs
a monitor. A make contact as a stop is lost with its wire, whatever the earthing.
"""

WORDS = {
    "short-A1:I1-PE": "stop's wire on earth",
    "short-A1:I2-PE": "start's wire on earth",
    "short-X1:24I-PE": "the pole behind the contacts on earth",
    "short-X1:0V-PE": "the pole behind the contacts on earth",
    "stop-and-same-pole": "stop's wire and that pole on earth",
    "start-and-same-pole": "start's wire and that pole on earth",
    "stop-and-other-pole": "stop's wire and the other pole on earth",
}
WAYS = [(stop, side, bonded) for stop in ("NC", "NO") for side in ("+", "0 V") for bonded in (True, False)]


def _cell(verdicts: tuple) -> str:
    stop, alone, starts = verdicts
    said = [word for word, verdict in (("**no stop**", stop), ("**by itself**", alone)) if not verdict]
    if not starts:
        hot = any("carries more" in text for text in starts.assumptions)
        said.append("no start (fuse)" if hot else "no start")
    return ", ".join(said) or "-"


def page() -> str:
    """The whole page."""
    columns: dict[str, list[str]] = {}
    for stop, side, bonded in WAYS:
        bench = stop_start_bench(side, stop=stop, bonded=bonded)
        faults = [Off("101"), *earth_faults(side)]
        effects = failure_effects(bench, STOP_START, faults, may=["S1", "S2"])
        for fault, verdicts in effects.rows:
            name = "no fault" if fault is None else WORDS.get(getattr(fault, "id", ""), "stop's wire off")
            columns.setdefault(name, []).append(_cell(verdicts))
    head = [f"{stop}, {side}, {'bonded' if bonded else 'floating'}" for stop, side, bonded in WAYS]
    lines = ["| fault | " + " | ".join(head) + " |", "|---" * (len(head) + 1) + "|"]
    lines += [f"| {name} | " + " | ".join(cells) + " |" for name, cells in columns.items()]
    return HEAD + "\n".join(lines) + "\n" + TAIL + _catalogue()


def _catalogue() -> str:
    """The one-line answer over every single fault, for both kinds of stop."""
    stop = {"STOP still stops": STOP_START["STOP still stops"]}
    said = [
        "\n## Does STOP still stop?\n",
        "With every single fault of the catalogue, contacts on the + side, 0 V bonded:\n",
    ]
    for kind, words in (("NC", "a break contact"), ("NO", "a make contact")):
        effects = failure_effects(stop_start_bench(stop=kind), stop, "catalogue", may=["S1", "S2"])
        _, _, rest = effects.answer(0).partition(": ")
        head, _, titles = rest.partition(": ")
        said.append(f"- {words}: {head}: {titles}")
    return "\n".join(said) + "\n"


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
    print(PAGE.name)
