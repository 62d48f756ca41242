"""Two tapes swung as exact circles: no linearisation, and nothing of the service."""

from math import hypot

Point = tuple[float, float]


def two_points(one: Point, two: Point, d_one_mm: float, d_two_mm: float) -> tuple[Point, Point] | None:
    """Return where the circles about two marks meet: left of the line from one to two first.

    None where the triangle cannot close.
    """
    base = hypot(two[0] - one[0], two[1] - one[1])
    if not base or not abs(d_one_mm - d_two_mm) <= base <= d_one_mm + d_two_mm:
        return None
    x, y = (two[0] - one[0]) / base, (two[1] - one[1]) / base
    along = (d_one_mm**2 - d_two_mm**2 + base**2) / (2.0 * base)
    across = max(d_one_mm**2 - along**2, 0.0) ** 0.5
    foot = one[0] + along * x, one[1] + along * y
    return (foot[0] - across * y, foot[1] + across * x), (foot[0] + across * y, foot[1] - across * x)
