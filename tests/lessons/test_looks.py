"""How near a figure must be: sign, tolerance and band of a reading and of a prediction."""

from __future__ import annotations

from pathlib import Path

import pytest

from labkit.lessons import load_lesson
from labkit.lessons._document import SheetTask
from labkit.lessons._looks import Seen, alike, near


@pytest.fixture(scope="module")
def task() -> SheetTask:
    """Tolerances as where a lesson says nothing: 5 %, but at least 0.3 V and 1 ohm."""
    found = load_lesson(Path(__file__).parent / "kinds" / "kinds.toml").task("checkout")
    assert isinstance(found, SheetTask)
    plain = {"tolerance_percent": 5, "tolerance_volts": 0.3, "tolerance_ohms": 1.0, "tolerance_amps": 0.002}
    return found.model_copy(update=plain)


@pytest.mark.parametrize(
    ("mode", "shown", "said", "right"),
    [
        ("volts", 24.0, 25.2, True),  # 5 % of 24 V are 1.2 V
        ("volts", 24.0, 25.3, False),
        ("volts", 24.0, 22.7, False),
        ("volts", 24.0, -24.0, False),  # the probes the wrong way round
        ("volts", 0.0, 0.3, True),  # 5 % of nothing would be nothing
        ("volts", 0.0, -0.4, False),
        ("ohms", 192.0, 201.0, True),
        ("ohms", 192.0, 202.0, False),
        ("ohms", 0.1, 1.1, True),
        ("ohms", 0.1, 1.2, False),
        ("ohms", None, "OL", True),
        ("ohms", None, 1e9, False),
        ("ohms", 192.0, "OL", False),
        ("amps", 0.125, 0.131, True),
        ("amps", 0.125, 125.0, False),  # milliamperes
        ("led", "on", "on", True),
        ("led", "on", "off", False),
    ],
)
def test_a_reading_is_right_as_near_as_the_task_wants(
    task: SheetTask, mode: str, shown: float | str | None, said: float | str, right: bool
) -> None:
    assert near(task, Seen(mode, shown, ""), said) is right  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("mode", "shown", "said", "right"),
    [
        ("volts", 23.9, 22.0, True),
        ("volts", 23.9, 21.8, False),
        ("volts", 23.9, -24.0, False),
        ("ohms", 192.0, 150.0, True),  # another figure, the same band: a coil
        ("ohms", 192.0, 1200.0, False),  # a lamp
        ("ohms", None, "OL", True),
        ("amps", 0.126, 0.2, True),
        ("amps", 0.126, 0.02, False),
        ("led", "on", "off", False),
    ],
)
def test_a_prediction_is_right_within_two_volts_or_in_the_same_band(
    mode: str, shown: float | str | None, said: float | str, right: bool
) -> None:
    assert alike(Seen(mode, shown, ""), said, 2.0) is right  # type: ignore[arg-type]
