"""What every test may lean on, and what no test may change."""

from __future__ import annotations

import os
import random
from collections.abc import Iterator
from pathlib import Path

import pytest


@pytest.fixture(scope="session", autouse=True)
def _nothing_global_changed() -> Iterator[None]:
    """Global random state and the current folder are as they were after the whole run."""
    import numpy as np

    folder = Path.cwd()
    numpy_state = repr(np.random.get_state())  # noqa: NPY002 - watched, not used
    yield
    assert Path.cwd() == folder, "a test left the current folder changed"
    assert repr(np.random.get_state())  # noqa: NPY002 - watched, not used == numpy_state, "numpy global random state used"


def pytest_sessionfinish(session: pytest.Session) -> None:
    """With LABKIT_REQUIRE_ALL set, a skipped test is a failed run: a check that CI promises must not hide."""
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    skipped = reporter.stats.get("skipped", []) if reporter else []
    if os.environ.get("LABKIT_REQUIRE_ALL") and skipped:
        reporter.write_line(f"LABKIT_REQUIRE_ALL: {len(skipped)} skipped test(s) count as failures", red=True)
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


@pytest.fixture
def seeded() -> random.Random:
    """A random source of the test's own."""
    return random.Random(20261125)
