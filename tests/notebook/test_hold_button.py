"""A push button: down only as long as somebody holds it."""

from __future__ import annotations

import pytest

from labkit.notebook import HoldButton, Lamp


@pytest.fixture
def button(bench, live):
    return HoldButton("S2", "Start", bench=bench)


def test_a_press_and_its_release_reach_the_bench_once_each(bench, button, page_of):
    page = page_of(button)
    page.send("press", via="pointer", held_ms=0, latched=False)
    assert bench.state("S2") == "pressed"
    assert button.down
    page.send("release", via="pointer", held_ms=0, latched=False)
    assert bench.state("S2") == "released"
    assert not button.down
    assert [to for _, part, to in bench.done if part == "S2"] == ["pressed", "released"]


def test_a_repeated_message_does_nothing(bench, button):
    message = {"do": "press", "view": "a", "no": 1}
    for _ in range(3):
        button._receive(button, message, [])
    assert [to for _, part, to in bench.done if part == "S2"] == ["pressed"]


def test_held_through_filter_scan_and_contactor_it_seals_in(bench, button, live, page_of):
    lamp = Lamp("P1", bench=bench)
    page = page_of(button)
    page.send("press")
    live(0.1)
    assert lamp.lit
    page.send("release")
    live(0.5)
    assert lamp.lit
    bench.remove("K1.aux")
    live(0.1)
    assert not lamp.lit


def test_two_views_hold_and_the_button_comes_up_with_the_last(bench, button, page_of):
    left, right = page_of(button, "left"), page_of(button, "right")
    left.send("press")
    right.send("press")
    left.send("release")
    assert button.down
    right.send("release")
    assert not button.down


def test_a_second_widget_of_the_same_part_is_in_step(bench, button, page_of):
    other = HoldButton("S2", bench=bench)
    page_of(button).send("press")
    assert other.down


def test_a_silent_view_is_taken_as_gone(bench, button, live, page_of):
    page_of(button).send("press")
    live(1.2)
    assert button.down
    live(0.5)
    assert not button.down


def test_a_view_that_beats_may_hold_as_long_as_it_likes(bench, button, live, page_of):
    page = page_of(button)
    page.send("press")
    for _ in range(20):
        live(0.5)
        page.send("beat")
    assert button.down


def test_beats_of_a_view_that_does_not_hold_hold_nothing(bench, button, live, page_of):
    page_of(button).send("beat")
    assert not button.down


def test_a_busy_kernel_does_not_let_go_before_it_has_read_its_messages(bench, button, live, wall, page_of):
    page_of(button).send("press")
    wall.now += 4  # a cell that blocks: beats wait in the queue
    live(0.01)
    assert button.down


def test_a_busy_kernel_does_not_shorten_a_press(bench, button, live, page_of):
    page = page_of(button)
    page.send("press")
    page.send("release", held_ms=200)  # both were read together, but the finger was down for 200 ms
    assert button.down
    live(0.19)
    assert button.down
    live(0.02)
    assert not button.down
    pressed, released = (t for t, part, _ in bench.done if part == "S2")
    assert released - pressed == 200_000


def test_in_slow_motion_a_held_press_is_as_long_as_the_bench_time_that_passed(bench, button, live, page_of):
    live.hub.set_speed(0.1)
    page = page_of(button)
    page.send("press")
    live(0.5)
    page.send("release", held_ms=500)
    pressed, released = (t for t, part, _ in bench.done if part == "S2")
    assert released - pressed == pytest.approx(50_000, abs=1_000)


def test_what_the_bench_refuses_is_said_in_the_widget(bench, live, page_of):
    stray = HoldButton("S1", bench=bench)
    stray.part = "S99"
    page_of(stray).send("press")
    assert stray.said.startswith("there is no part S99 on this board")


def test_a_message_that_is_no_command_changes_nothing_and_is_said(bench, button):
    button._receive(button, {"do": "press", "view": "a", "no": 1, "part": "K1"}, [])
    assert not bench.done
    assert "no field 'part'" in button.said


def test_without_a_bench_only_the_trait_moves(page_of):
    button, seen = HoldButton("S2", "Start"), []
    button.observe(lambda change: seen.append(change.new), "down")
    page = page_of(button)
    page.send("press")
    page.send("release")
    assert seen == [True, False]


def test_still_forms_tell_the_state_and_are_the_same_each_time(bench, button, page_of):
    assert repr(button) == "HoldButton(S2 Start, released)"
    before = button._repr_mimebundle_()[0]
    assert before == HoldButton("S2", "Start", bench=bench)._repr_mimebundle_()[0] | {
        "application/vnd.jupyter.widget-view+json": before["application/vnd.jupyter.widget-view+json"]
    }
    assert before["text/html"].startswith('<img alt="S2 Start, released" src="data:image/svg+xml;base64,')
    page_of(button).send("press")
    assert button._repr_mimebundle_()[0]["text/plain"] == "HoldButton(S2 Start, pressed)"
    assert button._repr_mimebundle_()[0]["text/html"] != before["text/html"]


def test_messages_on_another_thread_are_handled_on_the_widgets_own(bench, live):
    """JupyterLab 4.6 delivers widget messages on a thread of a kernel subshell."""
    import asyncio
    import threading

    seen = []

    async def main():
        button = HoldButton("S2", bench=bench)
        button.observe(lambda _: seen.append(threading.current_thread()), "down")
        page = threading.Thread(target=button._receive, args=(button, {"do": "press", "view": "a", "no": 1}, []))
        page.start()
        page.join()
        assert seen == []
        await asyncio.sleep(0)
        await asyncio.sleep(0)

    asyncio.run(main())
    assert seen == [threading.current_thread()]
