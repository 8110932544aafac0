"""What every room may lean on: errors, durations, files, near-miss hints.

Must not know: anything of the trade. Start reading at :class:`LabkitError`.
"""

from labkit.base.durations import Duration, as_us, ms, s, us
from labkit.base.errors import LabkitError, UnitError
from labkit.base.files import data_path, read_text, write_atomic
from labkit.base.hints import did_you_mean

__all__ = [
    # durations
    "Duration",
    "as_us",
    "ms",
    "s",
    "us",
    # errors
    "LabkitError",
    "UnitError",
    # files
    "data_path",
    "read_text",
    "write_atomic",
    # hints
    "did_you_mean",
]
