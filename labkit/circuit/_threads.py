"""One BLAS thread for this process.

The systems solved here have at most a few hundred unknowns. With two threads the hand-over costs seven to ten
times the work itself (measured: a 236 x 236 inverse 30 ms against 3.5 ms).
"""

from __future__ import annotations

import functools

__all__ = ["one_thread"]


@functools.cache
def one_thread() -> None:
    """Limit BLAS to one thread, once for the process."""
    from threadpoolctl import threadpool_limits

    threadpool_limits(1, user_api="blas")
