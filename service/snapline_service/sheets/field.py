"""One stage drawn into a field: at which scale, what is drawn and lettered, and in which order."""

from collections.abc import Callable
from typing import Literal

from snapline_service.errors import InvalidValue
from snapline_service.sheets.dimensions import FIGURE_ROOM_MM, ROW_FIRST_MM, ROW_PITCH_MM
from snapline_service.sheets.features import (
    bounds,
    draw_aim_lines,
    draw_centreline,
    draw_clear_zones,
    draw_fixtures,
    draw_marks,
    draw_sensors,
    draw_tapes,
    draw_vehicle,
)
from snapline_service.sheets.labels import fixture_statements, label_fixtures, number_fixtures
from snapline_service.sheets.lengths import Units, length_figure
from snapline_service.sheets.lettering import Box, tidy
from snapline_service.sheets.measures import ahead_mm, distances, draw_dimensions, draw_extent, is_level
from snapline_service.sheets.plan import Plan, Projection
from snapline_service.sheets.scene import Extent, PlanScene
from snapline_service.sheets.space import Space
from snapline_service.sheets.words import (
    confess,
    name_clear_zones,
    name_feet,
    name_lines,
    name_marks,
    name_sensors,
    name_sides,
)

# ISO 5455 recommends 1, 2 and 5 times powers of ten; 1:25 and 1:75 are not among them but stand on common
# scale rules, and spare a sheet from being drawn at half the size it has room for.
SCALES = (10, 20, 25, 50, 75, 100, 200, 500, 1000, 2000, 5000, 10000)

AS_DATA = "ask for the setup as data instead of a drawing"
_MOST_LABELLED, _MOST_FIXTURES = 6, 24
_MOST_ROWS = 3
_LINE_END_MM = 8.0

# What stands at each fixture: all that is said of it, its name, or its number alone.
Lettering = Literal["statements", "names", "numbers"]


def drawn(
    scene: PlanScene, wanted: Lettering, units: Units, field_of: Callable[[Lettering], Box]
) -> tuple[Plan, Lettering]:
    """Draw a stage at the largest scale at which it fits its field, or one smaller to give labels room.

    What is wanted at each fixture gives way to numbers where it has no room. Raises ``InvalidValue`` when the
    stage does not fit at the smallest scale or has too many fixtures for a sheet.
    """
    if len(scene.fixtures) > _MOST_FIXTURES:
        raise InvalidValue(
            f"The stage has {len(scene.fixtures)} fixtures, and a sheet shows {_MOST_FIXTURES} at most",
            mend=AS_DATA,
        )
    ways: tuple[tuple[Lettering, int], ...] = ((wanted, 0), (wanted, 1), ("numbers", 0))
    for lettering, steps_smaller in ways[2:] if len(scene.fixtures) > _MOST_LABELLED else ways:
        field = field_of(lettering)
        plan = Plan(scene, units, _projection(scene, field, steps_smaller), Space(field))
        if _fill(plan, lettering):
            break
    return plan, lettering


def _fill(plan: Plan, lettering: Lettering) -> bool:
    """Draw the plan, what is measured before what is lettered; False where a label found no room."""
    draw_extent(plan)
    draw_clear_zones(plan)
    draw_vehicle(plan)
    draw_centreline(plan)
    draw_aim_lines(plan)
    draw_tapes(plan)
    draw_fixtures(plan)
    draw_sensors(plan)
    draw_marks(plan)
    draw_dimensions(plan)
    name_sides(plan)
    if lettering == "numbers":
        number_fixtures(plan)
    elif not label_fixtures(plan, with_statements=lettering == "statements"):
        return False
    name_marks(plan)
    for name in (name_sensors, name_lines, name_clear_zones):
        name(plan)
    if lettering != "numbers":
        name_feet(plan)  # where fixtures crowd, their feet's names would hide them
    confess(plan)
    return True


def description(plan: Plan) -> str:
    """Say in words what the drawing shows, for those who cannot see it."""
    fixtures = [", ".join(fixture_statements(fixture)) for fixture in plan.scene.fixtures]
    parts = [f"Plan seen from above at 1:{plan.on.scale}, forward to the right", *fixtures]
    parts += [f"Stop: {stop}" for stop in plan.scene.stops]
    parts += [f"Not checked or assumed: {warning}" for warning in plan.scene.warnings]
    return ". ".join(tidy(part) for part in (plan.scene.banner, *parts) if part) + "."


def _projection(scene: PlanScene, field: Box, steps_smaller: int) -> Projection:
    """Choose the largest scale that leaves dimension rows their room, or a smaller one; place the plan."""
    box = bounds(scene)
    left, top, right, bottom = _rows_room(scene)
    room_x = field.x_max - field.x_min - left - right
    room_y = field.y_max - field.y_min - top - bottom
    length_mm, width_mm = box.x_max_mm - box.x_min_mm, box.y_max_mm - box.y_min_mm
    fitting = [s for s in SCALES if length_mm <= room_x * s and width_mm <= room_y * s]
    if not fitting:
        raise InvalidValue(
            f"The stage takes {length_figure(length_mm)} mm by {length_figure(width_mm)} mm, "
            f"more than a sheet shows at 1:{SCALES[-1]}",
            mend=f"check the placements' distances, or {AS_DATA}",
        )
    scale = fitting[min(steps_smaller, len(fitting) - 1)]
    spare_x = (room_x - length_mm / scale) * _spare_share(scene, box)
    x = field.x_min + left + spare_x - box.x_min_mm / scale
    y = field.y_min + top + (room_y - width_mm / scale) / 2 + box.y_max_mm / scale
    return Projection(scale, (x, y))


def _spare_share(scene: PlanScene, box: Extent) -> float:
    """Give the share of spare width on the left: less when the fixtures, so their labels, stand right."""
    return 0.5 - 0.8 * ahead_mm(scene) / (box.x_max_mm - box.x_min_mm)


def _rows_room(scene: PlanScene) -> tuple[float, float, float, float]:
    """Give the room for dimension rows left, above, right and below, in millimetres of paper."""
    spans: dict[str, list[tuple[float, float]]] = {"left": [], "above": [], "right": [], "below": []}
    for name, distance, reference in distances(scene):
        if name.endswith("along") and is_level(distance.start, distance.end):
            (x0, y0), (x1, y1) = distance.start, distance.end
            if abs(x1 - x0) > abs(y1 - y0):
                spans["above" if reference[1] > 0 else "below"].append((min(x0, x1), max(x0, x1)))
            else:
                spans["left" if reference[0] < 0 else "right"].append((min(y0, y1), max(y0, y1)))
    overall = ("left" if ahead_mm(scene) >= 0 else "right", "below")
    left, above, right, below = (_rows_mm(_depth(spans[side]) + (side in overall)) for side in spans)
    return left, above, right, below


def _depth(spans: list[tuple[float, float]]) -> int:
    """Count the rows that spans need, shortest first, each beyond those that it overlaps."""
    rows: list[tuple[float, float, int]] = []
    for low, high in spans:
        row = 1 + max((r for a, b, r in rows if a < high and low < b), default=0)
        rows.append((low, high, row))
    return max((row for _, _, row in rows), default=0)


def _rows_mm(count: int) -> float:
    if not count:
        return _LINE_END_MM
    return ROW_FIRST_MM + ROW_PITCH_MM * (min(count, _MOST_ROWS) - 1) + FIGURE_ROOM_MM
