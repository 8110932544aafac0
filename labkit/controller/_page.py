"""The reference page of the families, printed from their data.

``python -m labkit.controller._page > docs/reference/families.md`` renews the page.
"""

from __future__ import annotations

from itertools import groupby

from labkit.controller._files import families, family
from labkit.controller.addresses import addresses
from labkit.controller.family import Family
from labkit.controller.moving import Switch, switches

__all__ = ["families_page"]

_HEADINGS = {
    "addresses": "Addresses",
    "points": "Points",
    "scan": "The scan",
    "inputs": "Inputs",
    "outputs": "Outputs",
    "retention": "What a start does to values",
    "start": "The first scan",
    "timers": "Timers",
    "supply": "Supply",
    "program": "Programs",
    "forces": "Forces",
}

_HEAD = """\
# Controller families

Printed from `datasets/families` by `python -m labkit.controller._page`; do not edit. The families are invented. Each
row is a switch that acts: the last column says how it shows.

What all families share: inputs are sampled once a scan, at the start of the read phase; rungs are solved from top to
bottom; outputs change all together at the end of the write phase; every timer of a scan sees the same instant. An input
filter lets a change through when the raw channel has been stable for its time, and delays both edges alike. Loading a
program gives every value its initial one. A set-up (`scan_us`, `filter_us`) may stand in for the family's own figures.
"""


def families_page() -> str:
    """The page as Markdown."""
    profiles = [family(name) for name in families()]
    parts = [_HEAD]
    parts += [f"- **{profile.name}**: {profile.summary}" for profile in profiles]
    columns = [switches(profile) for profile in profiles]
    rows = list(zip(*columns, strict=True))
    for table, group in groupby(rows, key=lambda row: row[0].key.split(".")[0]):
        parts += ["", f"## {_HEADINGS[table]}", "", *_table(profiles, list(group))]
        if table == "points":
            parts += ["", "Inputs in the order of the terminals:", ""]
            parts += [f"- {p.name}: {', '.join(f'`{a}`' for a in addresses('I', p))}" for p in profiles]
    return "\n".join(parts) + "\n"


def _table(profiles: list[Family], rows: list[tuple[Switch, ...]]) -> list[str]:
    names = " | ".join(profile.name for profile in profiles)
    lines = [f"| switch | {names} | how it shows |", "|---" * (len(profiles) + 2) + "|"]
    lines += [f"| {row[0].title} | {' | '.join(s.setting for s in row)} | {row[0].why} |" for row in rows]
    return lines


if __name__ == "__main__":
    print(families_page(), end="")
