"""The dimensions of a plan: every fixture's along and lateral distance, and the room needed overall."""

import math

from snapline_service.sheets.dimensions import Span, place_dimension, rows_beside
from snapline_service.sheets.drawing import Line, Point, unit
from snapline_service.sheets.lengths import length_figure
from snapline_service.sheets.plan import Plan
from snapline_service.sheets.scene import Distance, Extent, PlanScene

_ROWS = 6
_CORNER_MM, _KEPT_MM = 4.0, 30.0
_NOTHING_MM = 0.05
_LEVEL = 0.98  # the cosine up to which a distance counts as running along an axis of the paper


def distances(scene: PlanScene) -> list[tuple[str, Distance, Point]]:
    """Give name, distance and reference point of what is dimensioned, shortest first.

    Fixtures on the same side of the same distance share one dimension.
    """
    found: dict[tuple[Point, Point, bool], tuple[str, Distance, Point]] = {}
    for number, fixture in enumerate(scene.fixtures, start=1):
        for kind, distance in (("along", fixture.along), ("lateral", fixture.lateral)):
            if distance and math.dist(distance.start, distance.end) > _NOTHING_MM:
                name = f"fixture.{number}.{kind}"
                (x0, y0), (x1, y1), (x, y) = distance.start, distance.end, fixture.reference
                is_left = (x1 - x0) * (y - y0) > (y1 - y0) * (x - x0)
                found.setdefault((distance.start, distance.end, is_left), (name, distance, fixture.reference))
    return sorted(found.values(), key=lambda entry: math.dist(entry[1].start, entry[1].end))


def draw_extent(plan: Plan) -> None:
    """Mark the corners of the room needed."""
    outline = plan.on.outline(corners(plan.scene.extent))
    for before, corner, after in zip(
        outline[-1:] + outline[:-1], outline, outline[1:] + outline[:1], strict=True
    ):
        for neighbour in (before, after):
            if (length_mm := math.dist(corner, neighbour)) > 0:
                part = min(_CORNER_MM / length_mm, 0.5)
                end = tuple(a + (b - a) * part for a, b in zip(corner, neighbour, strict=True))
                plan.draw(Line(corner, (end[0], end[1]), name="extent.corner"))


def draw_dimensions(plan: Plan) -> None:
    """Dimension the distances from the inside out, then the overall length and width."""
    hull = plan.on.outline(corners(plan.scene.extent))
    _keep_for_overall(plan, hull)
    for name, distance, reference in distances(plan.scene):
        start, end = plan.on.paper(distance.start), plan.on.paper(distance.end)
        figure = length_figure(math.dist(distance.start, distance.end), plan.units)
        span = Span(start, end, (start, plan.on.paper(reference)), figure, name)
        outer, near = rows_beside(hull, span, _ROWS), rows_beside(span.features, span, _ROWS)
        if name.endswith("along") and is_level(start, end):
            _draw(plan, span, outer) or _draw(plan, span, near)
        else:
            _draw(plan, span, near + outer)
    _draw_overall(plan, hull)


def ahead_mm(scene: PlanScene) -> float:
    """Give how far the fixtures stand ahead of the middle of the extent on average."""
    if not scene.fixtures:
        return 0.0
    mean_mm = sum(fixture.reference[0] for fixture in scene.fixtures) / len(scene.fixtures)
    return mean_mm - (scene.extent.x_min_mm + scene.extent.x_max_mm) / 2


def is_level(start: Point, end: Point) -> bool:
    """Tell whether a distance runs along an axis of the paper."""
    return max(abs(part) for part in unit(start, end)) > _LEVEL


def corners(extent: Extent) -> tuple[Point, ...]:
    """Give the corners of the extent, rear right first, counter-clockwise."""
    return (
        (extent.x_min_mm, extent.y_min_mm),
        (extent.x_max_mm, extent.y_min_mm),
        (extent.x_max_mm, extent.y_max_mm),
        (extent.x_min_mm, extent.y_max_mm),
    )


def _keep_for_overall(plan: Plan, hull: tuple[Point, ...]) -> None:
    """Note where the extension lines of the overall dimensions will run, so that no figure settles there."""
    for _, edges, _ in _overall(plan.scene, hull):
        start, end = edges[0]
        ux, uy = unit(start, end)
        for x, y in (start, end):
            plan.space.line((x, y), (x + uy * _KEPT_MM, y - ux * _KEPT_MM), 2.0)


def _draw_overall(plan: Plan, hull: tuple[Point, ...]) -> None:
    for name, edges, length_mm in _overall(plan.scene, hull):
        figure = f"{length_figure(math.ceil(length_mm - _NOTHING_MM), plan.units)} overall"
        spans = [Span(*edge, edge, figure, name) for edge in edges]
        # The rows beyond an edge, on its left hand, come last.
        if not any(_draw(plan, span, rows_beside(hull, span, _ROWS)[_ROWS:]) for span in spans):
            plan.left_out.append(figure)


def _overall(
    scene: PlanScene, hull: tuple[Point, ...]
) -> list[tuple[str, tuple[tuple[Point, Point], ...], float]]:
    """Give the room's length, below or else above it, and its width, first on the side without fixtures.

    Each edge of the room runs so that the room lies on its right hand, on the paper.
    """
    extent = scene.extent
    rear_right, front_right, front_left, rear_left = hull
    below, above = (front_right, rear_right), (rear_left, front_left)
    left, right = (rear_right, rear_left), (front_left, front_right)
    sides = (left, right) if ahead_mm(scene) >= 0 else (right, left)
    overall = [
        ("overall.length", (below, above), extent.x_max_mm - extent.x_min_mm),
        ("overall.width", sides, extent.y_max_mm - extent.y_min_mm),
    ]
    return [entry for entry in overall if entry[2] > _NOTHING_MM]


def _draw(plan: Plan, span: Span, rows: list[float]) -> bool:
    dimension = place_dimension(plan.space, span, rows)
    if dimension:
        plan.items.append(dimension)
    return dimension is not None
