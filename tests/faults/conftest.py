"""One dictionary for all tests that need it; that it is what benches show is test_quick's to see."""

from __future__ import annotations

import pytest

from labkit.faults import FaultDictionary, quick_dictionary


@pytest.fixture(scope="session")
def dictionary() -> FaultDictionary:
    return quick_dictionary("orchard")
