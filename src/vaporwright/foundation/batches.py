"""Many ratings at once: columns in, rows shared among threads, and the error of the first row that fails.

Compiled kernels release Python's lock, so that threads run side by side.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, Any

import numpy as np

from vaporwright.foundation.errors import NotConverged, VaporwrightError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


def rate_rows(
    *,
    given: dict[str, ArrayLike],
    results: int,
    in_range: Callable[[NDArray[np.float64]], NDArray[np.bool_]],
    run: Callable[[Any, Any, Any, int, int], None],
    rate_one: Callable[..., object],
    threads: int,
) -> NDArray[np.float64]:
    """Rate all rows that the columns describe.

    Args:
        given: the arguments of rate_one by name, in the order of the kernel's columns; shapes (n,) or scalar.
        results: how many columns come out.
        in_range: which rows lie within the range of rate_one.
        run: compiled; fills results and status (0: solved) of the rows first to last from the columns.
        rate_one: the same for one row; it words the error of a row that fails.
        threads [-]: 1 or more.
    Returns: shape (results, n).
    Raises: the error of the first failing row, with its number.
    """
    arrays = np.broadcast_arrays(*(np.atleast_1d(np.asarray(column, dtype=np.float64)) for column in given.values()))
    columns = np.ascontiguousarray(np.stack(arrays))
    rows = columns.shape[1]
    out = np.full((results, rows), np.nan)
    status = np.full(rows, -1)
    rated = in_range(columns)
    if threads <= 1 or rows < 2 * threads:
        run(columns, out, status, 0, rows)
    else:
        bounds = [rows * part // threads for part in range(threads + 1)]
        run(columns, out, status, 0, 0)  # compile once, before the threads start
        with ThreadPoolExecutor(threads) as pool:
            list(pool.map(lambda part: run(columns, out, status, bounds[part], bounds[part + 1]), range(threads)))
    failed = np.flatnonzero((status != 0) | ~np.isfinite(out).all(axis=0) | ~rated)
    if failed.size:
        row = int(failed[0])
        arguments = dict(zip(given, columns[:, row].tolist(), strict=True))
        try:
            rate_one(**arguments)
        except VaporwrightError as error:
            error.add_note(f"row {row} of {rows}")
            raise
        raise NotConverged(f"row {row} of {rows}: failed compiled but not in plain Python: {arguments}")
    return out
