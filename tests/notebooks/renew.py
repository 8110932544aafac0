"""Run every notebook anew and keep what it shows: ``python tests/notebooks/renew.py``, then read the difference.

The strict notebook check compares against these outputs, so they are renewed only by hand, never by a test. Widget
state is not saved: a page without a kernel shows each widget's still picture.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

import nbformat
from nbclient import NotebookClient

NOTEBOOKS = Path(__file__).resolve().parent.parent.parent / "notebooks"


def renew(path: Path) -> None:
    book = nbformat.read(path, as_version=4)
    with tempfile.TemporaryDirectory() as folder:
        resources = {"metadata": {"path": folder}}
        NotebookClient(book, timeout=120, store_widget_state=False, resources=resources).execute()
    for cell in book.cells:
        cell.metadata.pop("execution", None)
    book.metadata.pop("widgets", None)
    book.metadata["language_info"] = {"name": "python"}
    nbformat.write(book, path)


if __name__ == "__main__":
    for notebook in sorted(NOTEBOOKS.rglob("*.ipynb")):
        if ".ipynb_checkpoints" not in notebook.parts:
            renew(notebook)
            print(notebook.relative_to(NOTEBOOKS))
