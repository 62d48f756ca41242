"""What is wrong with the things in a bay: obstacles, doors, ceiling and floor survey."""

from collections.abc import Iterator
from math import dist

from shapely import LineString, Point, Polygon

from snapline.wire.sites import Bay, Door, FloorSurvey, Obstacle
from snapline_service import today
from snapline_service.errors import Fault
from snapline_service.geometry.bay_fit.units import sides
from snapline_service.sites.outline import SAME_POINT_MM, told, walls

# How well a tape finds a wall (common practice, no source).
ON_THE_WALL_MM = 5.0
LEAST_CEILING_MM = 2_000.0
# Levelled points that lie nearer to one line than this say nothing of the slope across it.
LEAST_SPREAD_MM = 100.0


def content_faults(bay: Bay, at: str = "") -> Iterator[Fault]:
    """Yield what is wrong inside a bay whose outline is good. ``at`` is the pointer of the bay."""
    yield from _ceiling(bay, at)
    outline = Polygon(bay.ring)
    for index, obstacle in enumerate(bay.obstacles):
        yield from _obstacle(obstacle, bay, outline, f"{at}/obstacles/{index}")
    for index, door in enumerate(bay.doors):
        yield from _door(door, bay, f"{at}/doors/{index}")
    if bay.floor:
        yield from _surveyed(bay.floor, f"{at}/floor/surveyed_on")
        yield from _floor(bay.floor, outline, f"{at}/floor/points")


def _ceiling(bay: Bay, at: str) -> Iterator[Fault]:
    if bay.ceiling_mm is not None and bay.ceiling_mm < LEAST_CEILING_MM:
        detail = f"The ceiling is {bay.ceiling_mm:,.10g} mm high, lower than {LEAST_CEILING_MM:,.0f} mm."
        mend = "Give the clear height in millimetres; a low beam or duct is an obstacle with z_min_mm."
        yield Fault(f"{at}/ceiling_mm", detail, mend)


def _obstacle(obstacle: Obstacle, bay: Bay, outline: Polygon, at: str) -> Iterator[Fault]:
    name, ceiling_mm = obstacle.name, bay.ceiling_mm
    top_mm = obstacle.z_max_mm
    if top_mm is not None and top_mm <= obstacle.z_min_mm:
        detail = f"'{name}' ends at {top_mm:,.10g} mm, not above where it begins."
        yield Fault(f"{at}/z_max_mm", detail, "Give a top above z_min_mm, or leave it out.")
    elif ceiling_mm is not None and top_mm is not None and top_mm > ceiling_mm:
        detail = f"'{name}' ends at {top_mm:,.10g} mm, above the ceiling at {ceiling_mm:,.10g} mm."
        yield Fault(f"{at}/z_max_mm", detail, "Correct one of the two, or leave z_max_mm out.")
    elif ceiling_mm is not None and obstacle.z_min_mm >= ceiling_mm:
        detail = f"'{name}' begins at {obstacle.z_min_mm:,.10g} mm, above the ceiling."
        yield Fault(f"{at}/z_min_mm", detail, "Correct one of the two, or leave the obstacle out.")
    shape = Polygon(obstacle.polygon)
    if not shape.is_valid or shape.area < SAME_POINT_MM**2:
        detail = f"The outline of '{name}' crosses itself or encloses nothing."
        yield Fault(f"{at}/polygon", detail, "Give its corners in the order in which one walks round.")
    elif shape.disjoint(outline):
        yield Fault(f"{at}/polygon", f"'{name}' stands outside the bay.", "Give it in the bay's own axes.")
    elif not outline.buffer(ON_THE_WALL_MM).covers(shape):
        beyond_mm = max(outline.distance(Point(corner)) for corner in obstacle.polygon)
        how_far = f"by {beyond_mm:,.0f} mm" if beyond_mm else "between its corners"
        yield Fault(f"{at}/polygon", f"'{name}' sticks out of the bay {how_far}.", "End it at the wall.")


def _door(door: Door, bay: Bay, at: str) -> Iterator[Fault]:
    length_mm = dist(door.start, door.end)
    if length_mm < SAME_POINT_MM:
        yield Fault(f"{at}/end", f"'{door.name}' ends where it starts.", "Give both of its jambs.")
        return
    lines = [LineString(wall) for wall in walls(bay.ring)]
    start, end = Point(door.start), Point(door.end)
    starts_in = [n for n, line in enumerate(lines) if line.distance(start) <= ON_THE_WALL_MM]
    ends_in = [n for n, line in enumerate(lines) if line.distance(end) <= ON_THE_WALL_MM]
    if set(starts_in) & set(ends_in):
        return
    longest = max((lines[n].length for n in starts_in or ends_in), default=0.0)
    if (starts_in or ends_in) and length_mm > longest:
        detail = f"'{door.name}' is {length_mm:,.0f} mm wide, its wall only {longest:,.0f} mm."
        yield Fault(at, detail, "Give its two jambs on one wall.")
        return
    if starts_in and ends_in:
        detail = f"'{door.name}' starts in wall {starts_in[0]} and ends in wall {ends_in[0]}."
        yield Fault(at, detail, "Give its two jambs on one wall; a door round a corner is two.")
    for field, place, found in (("start", door.start, starts_in), ("end", door.end, ends_in)):
        if not found:
            away_mm = min(line.distance(Point(place)) for line in lines)
            detail = f"'{door.name}' has its {field} at {told(place)}, {away_mm:,.0f} mm from the outline."
            mend = f"Give a place on a wall, within {ON_THE_WALL_MM:g} mm."
            yield Fault(f"{at}/{field}", detail, mend)


def _surveyed(survey: FloorSurvey, at: str) -> Iterator[Fault]:
    if survey.surveyed_on > today.latest():
        yield Fault(at, f"{survey.surveyed_on} is still to come.", "Give the day on which it was levelled.")


def _floor(survey: FloorSurvey, outline: Polygon, at: str) -> Iterator[Fault]:
    places = [(point.x_mm, point.y_mm) for point in survey.points]
    for index, place in enumerate(places):
        away_mm = outline.distance(Point(place))
        if away_mm > ON_THE_WALL_MM:
            detail = f"The levelled point {told(place)} is {away_mm:,.0f} mm outside the bay."
            yield Fault(f"{at}/{index}", detail, "Give it in the bay's own axes.")
    seen: dict[tuple[int, int], int] = {}
    for index, (x_mm, y_mm) in enumerate(places):
        before = seen.setdefault((round(x_mm), round(y_mm)), index)
        if before != index:
            detail = f"Points {before} and {index} are the same place, {told((x_mm, y_mm))}."
            yield Fault(f"{at}/{index}", detail, "Level each place once, or give the mean.")
    if sides(places)[0] < LEAST_SPREAD_MM:
        detail = "The levelled points lie on one line, which says nothing of the slope across it."
        yield Fault(at, detail, "Level at least one point beside that line.")
