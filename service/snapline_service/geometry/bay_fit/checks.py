"""What cannot be is refused before it is computed with, all of it at once."""

from collections.abc import Iterator, Sequence

import numpy as np
import shapely

from snapline_service.errors import BadInput, Fault
from snapline_service.geometry.bay_fit.room import ON_THE_WALL_MM
from snapline_service.geometry.bay_fit.shortfall import spaces_needed
from snapline_service.geometry.bay_fit.values import CONTACT_MM, Bay, Part, Procedure
from snapline_service.geometry.bay_fit.walls import wall_at
from snapline_service.geometry.values import Point

# Pairs of a part's corner and a corner of an obstacle or of the ring, over all headings and every time that
# the free places are found; shared parts count once. It takes at most 2.7 µs each, so 5 s in all.
GREATEST_WORK = 1_800_000


def check(bay: Bay, headings_deg: Sequence[float], procedures: Sequence[Procedure]) -> None:
    """Raise BadInput with every fault of a question, with pointers into the calculator's request.

    That numbers are finite and no longer than 1 km is seen to where they come in.
    """
    faults = [*_bay(bay), *_asked(headings_deg, procedures)]
    faults = faults or list(_work(bay, headings_deg, procedures))
    if faults:
        raise BadInput(faults)


def _bay(bay: Bay) -> Iterator[Fault]:
    yield from _ring(bay.ring)
    for n, obstacle in enumerate(bay.obstacles):
        yield from _outline(obstacle.polygon, f"/bay/obstacles/{n}", "The obstacle")
        yield from _heights(obstacle.z_min_mm, obstacle.z_max_mm, f"/bay/obstacle_heights/{n}")
    for n, door in enumerate(bay.doors):
        if np.hypot(*np.subtract(door.start, door.end)) < ON_THE_WALL_MM:
            yield Fault(f"/bay/doors/{n}", "The door ends where it starts.", "Give its two jambs.")
        elif wall_at(bay.ring, (door.start, door.end), ON_THE_WALL_MM) is None:
            detail = f"The door from {_told(door.start)} to {_told(door.end)} is not in one wall of the ring."
            mend = f"Give two points of one wall, within {ON_THE_WALL_MM:g} mm; a door round a corner is two."
            yield Fault(f"/bay/doors/{n}", detail, mend)


def _ring(ring: Sequence[Point]) -> Iterator[Fault]:
    again = False
    for n, corner in enumerate(ring):
        if corner == ring[n - 1]:
            again = True
            detail = f"The corner {_told(corner)} stands twice in turn, so that a wall has no length."
            mend = "Give each corner once; the ring closes by itself."
            yield Fault(f"/bay/ring/{n or len(ring) - 1}", detail, mend)
    if not again:
        yield from _outline(ring, "/bay/ring", "The bay's ring")


def _asked(headings_deg: Sequence[float], procedures: Sequence[Procedure]) -> Iterator[Fault]:
    if not headings_deg:
        yield Fault("/headings_deg", "No heading is given.", "Give the directions in which a car may face.")
    if not procedures:
        yield Fault("/procedures", "No procedure is given.", "Give at least one.")
    names = [procedure.name for procedure in procedures]
    for n, procedure in enumerate(procedures):
        if procedure.name in names[:n]:
            detail = f"The procedure '{procedure.name}' stands twice."
            yield Fault(f"/procedures/{n}/name", detail, "Give each its own name: answers refer to it.")
        if not procedure.parts:
            detail = f"The procedure '{procedure.name}' has no part."
            yield Fault(f"/procedures/{n}/parts", detail, "Give what takes up room.")
    for at, part in _parts(procedures):
        yield from _part(part, at)


def _part(part: Part, at: str) -> Iterator[Fault]:
    faults = list(_outline(part.polygon, f"{at}/polygon", f"The part '{part.name}'"))
    polygon = shapely.Polygon(part.polygon)
    if not faults and polygon.convex_hull.area - polygon.area > CONTACT_MM * polygon.length:
        detail = f"The part '{part.name}' is not convex."
        yield Fault(f"{at}/polygon", detail, "Split it into convex parts.")
    yield from faults
    yield from _heights(part.z_min_mm, part.z_max_mm, at)


def _outline(points: Sequence[Point], at: str, what: str) -> Iterator[Fault]:
    polygon = shapely.Polygon(points) if len(points) >= 3 else shapely.Polygon()
    if len(set(points)) < 3:
        yield Fault(at, f"{what} has fewer than three different corners.", "Give at least three.")
    elif not polygon.is_valid:
        why = shapely.is_valid_reason(polygon)
        detail = f"{what} crosses or touches itself ({why})."
        yield Fault(at, detail, "Give the corners in the order in which one walks round.")
    elif polygon.area < 1.0:
        yield Fault(at, f"{what} encloses nothing.", "Give corners in mm that are not on one line.")


def _heights(z_min_mm: float, z_max_mm: float | None, at: str) -> Iterator[Fault]:
    if z_max_mm is not None and z_max_mm < z_min_mm:
        detail = f"The top, at {z_max_mm:g} mm, is below the bottom, at {z_min_mm:g} mm."
        yield Fault(f"{at}/z_max_mm", detail, "Give a z_max_mm above z_min_mm, or leave it out.")


def _work(bay: Bay, headings_deg: Sequence[float], procedures: Sequence[Procedure]) -> Iterator[Fault]:
    of_parts = sum(len(part.polygon) for part in {part for _, part in _parts(procedures)})
    of_bay = len(bay.ring) + sum(len(obstacle.polygon) for obstacle in bay.obstacles)
    if len(headings_deg) * of_parts * of_bay * spaces_needed(bay, procedures) > GREATEST_WORK:
        detail = (
            f"{len(headings_deg)} headings, {of_parts} corners of parts and {of_bay} of the bay are too much."
        )
        yield Fault("", detail, "Ask about fewer headings or procedures at once, or give simpler outlines.")


def _parts(procedures: Sequence[Procedure]) -> Iterator[tuple[str, Part]]:
    """Yield all parts with their pointers; those that slide or lead in are no part of the request."""
    for n, procedure in enumerate(procedures):
        for m, part in enumerate(procedure.parts):
            yield f"/procedures/{n}/parts/{m}", part


def _told(point: Point) -> str:
    return f"({point[0]:,.10g}, {point[1]:,.10g})"
