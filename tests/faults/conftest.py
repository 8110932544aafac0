"""One dictionary for all tests that need it: building it takes a while."""

from __future__ import annotations

import pytest

from labkit.faults import FaultDictionary, build_dictionary


@pytest.fixture(scope="session")
def dictionary() -> FaultDictionary:
    return build_dictionary("orchard")
