"""What every room may lean on: errors, durations, files, near-miss hints, page templates.

Must not know: anything of the trade. Start reading at :class:`LabkitError`.
"""

from labkit.base.durations import Duration, as_us, ms, s, us
from labkit.base.errors import GivenError, LabkitError, UnitError
from labkit.base.files import data_path, read_text, write_atomic
from labkit.base.given import as_many, as_path, as_text, need, shown
from labkit.base.hints import did_you_mean, nearest
from labkit.base.pages import page_template

__all__ = [
    # durations
    "Duration",
    "as_us",
    "ms",
    "s",
    "us",
    # errors
    "GivenError",
    "LabkitError",
    "UnitError",
    # files
    "data_path",
    "read_text",
    "write_atomic",
    # what is handed over
    "as_many",
    "as_path",
    "as_text",
    "need",
    "shown",
    # hints
    "did_you_mean",
    "nearest",
    # pages
    "page_template",
]
