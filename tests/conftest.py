"""What every test may lean on, and what no test may change."""

from __future__ import annotations

import os
import random
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

# how long an example takes says something of the machine and of what else it does, nothing of labkit
settings.register_profile("untimed", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("untimed")


@pytest.fixture(scope="session", autouse=True)
def _nothing_global_changed() -> Iterator[None]:
    """Global random state and the current folder are as they were after the whole run."""
    import numpy as np

    folder = Path.cwd()
    before = repr(np.random.get_state())  # noqa: NPY002 - watched, not used
    yield
    assert Path.cwd() == folder, "a test left the current folder changed"
    after = repr(np.random.get_state())  # noqa: NPY002
    assert after == before, "something used numpy's global random state"


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
