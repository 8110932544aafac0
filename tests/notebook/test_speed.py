"""What `labkit speed --browser` says where it cannot measure."""

from __future__ import annotations

import sys

import pytest

from labkit.base import LabkitError
from labkit.notebook import _browser, _speed


def test_without_chromium_it_says_how_to_get_it(monkeypatch):
    monkeypatch.setattr(_browser.shutil, "which", lambda _: None)
    with pytest.raises(LabkitError) as missing:
        _speed.rows(quick=True)
    assert "apt install chromium" in missing.value.try_this


def test_without_playwright_it_says_how_to_get_it(monkeypatch):
    monkeypatch.setattr(_browser.shutil, "which", lambda name: f"/usr/bin/{name}")
    monkeypatch.setitem(sys.modules, "playwright.sync_api", None)
    with pytest.raises(LabkitError) as missing:
        _speed.rows(quick=True)
    assert "pip install playwright" in missing.value.try_this


def test_a_lab_that_does_not_start_tells_its_last_words(monkeypatch, tmp_path):
    monkeypatch.setattr(_browser, "arguments", lambda *_, **__: [sys.executable, "-c", "raise SystemExit('no lab')"])
    with pytest.raises(LabkitError, match="no lab"):
        _browser.Lab(tmp_path)
