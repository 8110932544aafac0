"""The earth-fault table in a notebook follows its slider."""

from __future__ import annotations

import math

from labkit.notebook import earth_slider


def test_the_table_follows_the_slider() -> None:
    view = earth_slider()
    assert view.table.value.count("the stop is bypassed") == 1  # contacts on the 0 V side, bonded
    view.slider.value = math.inf
    assert "bypassed" not in view.table.value
    assert "waits" not in view.table.value  # there is no fault that could
    assert view.table.value.count("nothing is wrong") == 4
    assert repr(view) == "EarthSlider(no fault)"


def test_a_page_without_a_kernel_shows_the_four_ways() -> None:
    data, _ = earth_slider()._repr_mimebundle_()
    assert "0 V floating" in data["text/html"]
