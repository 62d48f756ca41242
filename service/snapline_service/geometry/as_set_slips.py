"""Which distance is wrong, found by leaving each out and solving anew.

The w-test looks along the slopes at the place found. A slip of a metre bends that place so far that a good
distance may stand out there; without the bad one the others agree, wherever it had drawn them.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace

from snapline_service.geometry.as_set_distances import Distances, fit
from snapline_service.geometry.as_set_values import Body, Distance
from snapline_service.geometry.least_squares import Adjustment
from snapline_service.geometry.marks import Marks
from snapline_service.geometry.outliers import Checked, global_test

# Returns the adjustment without the distance in a row.
Without = Callable[[int], Adjustment]


def without(marks: Marks, bodies: Sequence[Body], distances: Sequence[Distance]) -> Without:
    """Return how to solve anew without one of the distances."""

    def solve(row: int) -> Adjustment:
        others = [one for other, one in enumerate(distances) if other != row]
        return fit(Distances(marks, bodies, others), others)

    return solve


def located(
    tested: tuple[Checked, ...], fitted: Adjustment, alpha: float, solve: Without
) -> tuple[Checked, ...]:
    """Return the tests with those suspect without which the others agree, if they name somebody else."""
    named = {row for row, one in enumerate(tested) if one.suspect}
    if not named or global_test(fitted, alpha).passed is not False:
        return tested
    rows = [row for row, one in enumerate(tested) if one.w is not None]
    if next(agreeing_without(sorted(named), alpha, solve), None) is not None:
        return tested
    found = set(agreeing_without(rows, alpha, solve))
    suspects = found if len(found) < len(rows) else set()
    return tuple(replace(one, suspect=row in suspects) for row, one in enumerate(tested)) if found else tested


def agreeing_without(rows: Iterable[int], alpha: float, solve: Without) -> Iterator[int]:
    """Yield the rows without which the other distances agree at the level ``alpha``."""
    for row in rows:
        left = solve(row)
        if left.settled and global_test(left, alpha).passed:
            yield row
