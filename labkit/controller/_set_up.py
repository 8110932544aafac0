"""A family with another scan period or filter, for experiments."""

from __future__ import annotations

from labkit.controller.errors import ControllerError
from labkit.controller.family import Family, Inputs, Scan

__all__ = ["set_up"]


def set_up(family: Family, scan_us: int | None, filter_us: int | None) -> Family:
    """The family with another scan period or filter."""
    changes: dict[str, Scan | Inputs] = {}
    if scan_us is not None:
        if scan_us <= 0:
            raise ControllerError(
                f"a scan period must be above 0, not {scan_us} us",
                where="scan",
                try_this="write for example scan=ms(10)",
                code="controller-set-up",
            )
        changes["scan"] = family.scan.model_copy(update={"kind": "fixed", "period_us": scan_us})
    if filter_us is not None:
        if filter_us < 0:
            raise ControllerError(
                f"a filter cannot be below 0, not {filter_us} us",
                where="filter",
                try_this="write for example filter=ms(3)",
                code="controller-set-up",
            )
        changes["inputs"] = family.inputs.model_copy(update={"filter_us": filter_us})
    return family.model_copy(update=changes) if changes else family
