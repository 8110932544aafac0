"""The input filter: what comes through, and when."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.controller import Controller, ControllerError

FILTER = 4_000


@pytest.fixture
def live(tags):
    controller = Controller("alder", tags, filter_us=FILTER)
    controller.power(True, 0)
    return controller


def test_a_change_comes_through_after_the_filter_time(live):
    assert live.channel("I1", True, 1_000) == 5_000
    assert not live.settle("I1", 4_999)
    assert live.filtered("I1") == 0
    assert live.settle("I1", 5_000)
    assert live.filtered("I1") == 1
    assert live.channel("I1", False, 20_000) == 24_000
    assert live.settle("I1", 24_000)
    assert live.filtered("I1") == 0


def test_a_pulse_shorter_than_the_filter_never_comes_through(live):
    assert live.channel("I1", True, 1_000) == 5_000
    assert live.channel("I1", False, 4_999) is None
    assert not live.settle("I1", 5_000)
    assert live.next_due_us is None


def test_bounce_starts_the_filter_again(live):
    for t in (0, 1_000, 2_000):
        assert live.channel("I1", True, t) == t + FILTER
        assert live.channel("I1", False, t + 500) is None
    assert live.channel("I1", True, 3_000) == 7_000
    assert live.channel("I1", True, 6_000) is None, "nothing new: it was on already"
    assert live.settle("I1", 7_000)


def test_channels_do_not_mind_each_other(live):
    live.channel("I1", True, 0)
    live.channel("I2", True, 1_000)
    assert live.next_due_us == 4_000
    assert live.settle("I1", 4_500)
    assert (live.filtered("I1"), live.filtered("I2")) == (1, 0)
    assert live.next_due_us == 5_000


def test_without_a_filter_a_change_is_through_at_once(tags):
    controller = Controller("alder", tags, filter_us=0)
    controller.power(True, 0)
    assert controller.channel("I1", True, 10) is None
    assert controller.filtered("I1") == 1


def test_without_supply_a_channel_reads_nothing_and_catches_up_after(tags):
    controller = Controller("alder", tags, filter_us=FILTER)
    assert controller.channel("I1", True, 0) is None
    assert not controller.settle("I1", 10_000)
    controller.power(True, 20_000)
    assert controller.next_due_us == 24_000
    assert controller.settle("I1", 24_000)
    controller.power(False, 30_000)
    assert controller.filtered("I1") == 0


def test_a_point_that_is_not_there_is_named(live):
    with pytest.raises(ControllerError, match="this controller has no input I13") as slip:
        live.channel("I13", True, 0)
    assert slip.value.try_this == "it has I1 to I12"


@pytest.mark.parametrize(
    ("set_up", "what"),
    [({"scan_us": 0}, "a scan period must be above 0"), ({"filter_us": -1}, "a filter cannot be below 0")],
)
def test_a_set_up_that_cannot_be_is_refused(tags, set_up, what):
    with pytest.raises(ControllerError, match=what):
        Controller("alder", tags, **set_up)


@given(st.lists(st.integers(1, 9_000), max_size=20), st.integers(0, 6_000))
def test_the_filtered_value_is_the_last_one_that_was_stable_long_enough(tags, gaps, filter_us):
    """Against the definition: of all stretches that lasted longer than the filter, the last one's value.

    A change at the very instant at which the filter would let one through comes first and starts it again.
    """
    controller = Controller("alder", tags, filter_us=filter_us)
    controller.power(True, 0)
    now, value, edges = 0, False, [(0, False)]
    for gap in gaps:
        now += gap
        value = not value
        controller.channel("I1", value, now)
        edges.append((now, value))
    end = now + 3_000
    controller.settle("I1", end)
    expected = False
    for (start, value), (stop, _) in zip(edges, [*edges[1:], (end + 1, None)], strict=True):
        if stop - start > filter_us:
            expected = value
    assert controller.filtered("I1") == int(expected)
