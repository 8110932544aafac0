"""The sheet's inks and papers keep the contrast that WCAG 2.2 asks for, in both themes."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import labkit.notebook

CSS = (Path(labkit.notebook.__file__).parent / "common.css").read_text("utf-8")


def tokens(theme):
    light = dict(re.findall(r"--lk-(\w+): (#[0-9a-f]{6})", CSS.split("body[data-jp-theme")[0]))
    dark = dict(
        re.findall(r"--lk-(\w+): (#[0-9a-f]{6})", CSS.split('body[data-jp-theme-light="false"] .lk {')[1].split("}")[0])
    )
    return light if theme == "light" else light | dark


def luminance(colour):
    """WCAG 2.2, definition of relative luminance."""
    parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    r, g, b = (v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(one, other):
    """WCAG 2.2, definition of contrast ratio."""
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def test_the_ratio_of_black_and_white_is_twenty_one():
    assert contrast("#000000", "#ffffff") == pytest.approx(21)


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("paper", ["paper", "plate"])
@pytest.mark.parametrize("ink", ["ink", "soft", "warn"])
def test_words_have_at_least_four_and_a_half(theme, paper, ink):
    """Success criterion 1.4.3."""
    named = tokens(theme)
    assert contrast(named[ink], named[paper]) >= 4.5


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("ink", ["line", "focus", "live", "ink"])
def test_outlines_and_focus_have_at_least_three(theme, ink):
    """Success criterion 1.4.11."""
    named = tokens(theme)
    assert contrast(named[ink], named["paper"]) >= 3
