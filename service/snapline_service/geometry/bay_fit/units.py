"""Lengths given in another unit by mistake, told by their size."""

from collections.abc import Iterable, Sequence
from math import dist

from shapely import MultiPoint, Polygon, minimum_rotated_rectangle

from snapline_service.geometry.bay_fit.values import Bay, Procedure
from snapline_service.geometry.values import Point

# Common practice, no source: no car turns its wheels in less.
LEAST_MM = 2_000.0
# How many mm each unit has, and the long sides of a bay for which it is likely.
_MISTAKEN = (
    ("metres", 1000.0, 2.0, 100.0),
    ("feet", 304.8, 20.0, 100.0),
    ("inches", 25.4, 100.0, 700.0),
    ("centimetres", 10.0, 700.0, LEAST_MM),
)


def sides(places: Iterable[Point]) -> tuple[float, float]:
    """Return the short and the long side of the smallest rectangle, however turned, round places."""
    around = minimum_rotated_rectangle(MultiPoint(list(places)))
    if not isinstance(around, Polygon):  # all on one line, or all in one place
        return 0.0, around.length
    corners = list(around.exterior.coords)
    short, long = sorted((dist(corners[0], corners[1]), dist(corners[1], corners[2])))
    return short, long


def unit_meant(short: float, long: float, *, least_mm: tuple[float, float] = (LEAST_MM, LEAST_MM)) -> str:
    """Return the question whether another unit was meant, if the outline would be a bay in it.

    A bay is then at least ``least_mm`` long, on its short and on its long side.
    """
    meant = [
        (unit, f"{long * mm:,.0f} × {short * mm:,.0f}")
        for unit, mm, least, greatest in _MISTAKEN
        if least <= long <= greatest and short * mm >= least_mm[0] and long * mm >= least_mm[1]
    ]
    units, sizes = (" or ".join(words) for words in zip(*meant, strict=True)) if meant else ("", "")
    return f"Are these {units}? In mm it would be {sizes}." if meant else ""


def notes_on_units(bay: Bay, procedures: Sequence[Procedure]) -> Iterable[str]:
    """Yield that a bay seems to be in another unit, where a part as large as a car is larger than the bay."""
    short, long = sides(bay.ring)
    parts = [part for procedure in procedures for part in procedure.parts]
    largest = max(parts, key=lambda part: sides(part.polygon)[1])
    least_mm = sides(largest.polygon)
    question = unit_meant(short, long, least_mm=least_mm)
    if question and long < LEAST_MM <= least_mm[1]:
        yield f"The bay is {long:,.4g} × {short:,.4g} mm, smaller than '{largest.name}'. {question}"
