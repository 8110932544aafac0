"""Check a binary AIGER file: a process of its own, beside the outside tools that read the same file.

``python -S -E labkit/verify/_check.py FILE.aig`` prints the verdict, the length and the number of states. It imports
three files of this folder and nothing else, so start-up is that of the interpreter; numpy comes in past some thousand
states. Ends with 0 if "bad" is never reached, 1 if it is, 2 if that stays open.
"""

from __future__ import annotations

import sys


def _wide() -> object:
    # numpy lies where the site module would have looked
    import site

    site.main()
    from _wide import run_wide  # type: ignore[import-not-found]

    return run_wide


def main(path: str) -> int:
    """Read, explore, print."""
    from _aiger import read_aig  # type: ignore[import-not-found]  # beside this file
    from _lanes import explore  # type: ignore[import-not-found]
    from _nodes import Flat  # type: ignore[import-not-found]

    with open(path, "rb") as file:  # noqa: PTH123 - pathlib costs as much as the whole check
        flat = read_aig(file.read(), Flat)
    found = explore(flat, wide=_wide)
    print(found.outcome, found.depth, found.states, found.bound)
    return {"holds": 0, "fails": 1}.get(found.outcome, 2)


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1]))
