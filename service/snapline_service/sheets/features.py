"""The things a plan view shows: vehicle, sensors, aim lines, fixtures and their clear zones."""

import math

from snapline_service.sheets.drawing import (
    CHAIN,
    DASHED,
    DOTTED,
    DOUBLE_CHAIN,
    OUTLINE,
    THIN,
    Arrow,
    Circle,
    Line,
    Point,
    Polygon,
    arrowhead,
    unit,
)
from snapline_service.sheets.plan import Plan
from snapline_service.sheets.scene import AimLine, Extent, FixtureView, PlanScene, VehicleOutline

# A usual tyre, for the reader's orientation alone: nothing is measured from its edges.
_TYRE_LENGTH_MM, _TYRE_WIDTH_MM = 650.0, 220.0
SENSOR_RING_MM, FOOT_RING_MM, _REFERENCE_DOT_MM, MARK_ARM_MM = 1.2, 0.9, 0.9, 1.3
_FACING_MM = 9.0
_LOOKING_MM = 8.0
_PAST_EXTENT_MM = 5.0


def bounds(scene: PlanScene) -> Extent:
    """Give the rectangle that holds everything to be drawn to scale."""
    extent = scene.extent
    points = [(extent.x_min_mm, extent.y_min_mm), (extent.x_max_mm, extent.y_max_mm)]
    points += scene_points(scene)
    points += [(line.x_mm, line.y_mm) for line in scene.aim_lines]
    xs, ys = zip(*points, strict=True)
    return Extent(min(xs), max(xs), min(ys), max(ys))


def scene_points(scene: PlanScene) -> list[Point]:
    """Give every corner and point of the things in a scene, in the vehicle's axes."""
    points = list(vehicle_corners(scene.vehicle))
    points += [(sensor.x_mm, sensor.y_mm) for sensor in scene.sensors]
    points += [(mark.x_mm, mark.y_mm) for mark in scene.marks]
    for fixture in scene.fixtures:
        points += [fixture.reference, *fixture.footprint, *fixture.clear_zone]
        points += [(foot.x_mm, foot.y_mm) for foot in fixture.feet]
        for distance in (fixture.along, fixture.lateral):
            points += [distance.start, distance.end] if distance else []
    return points


def vehicle_corners(vehicle: VehicleOutline) -> tuple[Point, ...]:
    """Give the corners of the vehicle's outline."""
    front, rear, side = (
        vehicle.wheelbase_mm + vehicle.front_overhang_mm,
        -vehicle.rear_overhang_mm,
        vehicle.width_mm / 2,
    )
    return (front, side), (rear, side), (rear, -side), (front, -side)


def draw_clear_zones(plan: Plan) -> None:
    """Draw where people and metal keep out."""
    for number, fixture in enumerate(plan.scene.fixtures, start=1):
        if fixture.clear_zone:
            outline = plan.on.outline(fixture.clear_zone)
            plan.draw(Polygon(outline, DASHED, name=f"fixture.{number}.clear_zone"))


def draw_vehicle(plan: Plan) -> None:
    """Draw the outline, four wheels and the axle lines."""
    vehicle, on = plan.scene.vehicle, plan.on
    plan.draw(Polygon(on.outline(vehicle_corners(vehicle)), OUTLINE, name="vehicle.outline"))
    axles = (("front", vehicle.wheelbase_mm, vehicle.front_track_mm), ("rear", 0.0, vehicle.rear_track_mm))
    for axle, x, track in axles:
        reach = track / 2 + _TYRE_WIDTH_MM
        plan.draw(Line(on.paper((x, -reach)), on.paper((x, reach)), CHAIN, name=f"vehicle.axle.{axle}"))
        for side, y in (("left", track / 2), ("right", -track / 2)):
            plan.draw(Polygon(on.outline(_tyre(x, y)), THIN, name=f"vehicle.wheel.{axle}_{side}"))


def draw_centreline(plan: Plan) -> None:
    """Draw the vehicle's centreline through the whole extent."""
    plan.draw(Line(*centreline_ends(plan), CHAIN, name="vehicle.centreline"))


def centreline_ends(plan: Plan) -> tuple[Point, Point]:
    """Give the paper ends of the centreline, rear end first."""
    return _across(plan, (0.0, 0.0), 0.0)


def draw_aim_lines(plan: Plan) -> None:
    """Draw each aim line with an arrowhead in the aim direction; one on the centreline is that line."""
    for number, line in enumerate(plan.scene.aim_lines, start=1):
        start, end = aim_line_ends(plan, line)
        name = f"aim_line.{number}"
        if not is_centreline(line):
            plan.draw(Line(start, end, DOUBLE_CHAIN, name=name))
        if math.dist(start, end) > 0:
            plan.draw(arrowhead(end, unit(start, end)))


def aim_line_ends(plan: Plan, line: AimLine) -> tuple[Point, Point]:
    """Give the paper ends of an aim line, the one it points to last."""
    point = (line.x_mm, line.y_mm)
    start, end = _across(plan, point, line.direction_deg)
    return (plan.on.paper(point), end) if line.starts_at_point else (start, end)


def is_centreline(line: AimLine) -> bool:
    """Tell whether an aim line lies on the vehicle's centreline."""
    turn = math.radians(line.direction_deg)
    return abs(math.sin(turn)) < 1e-6 and abs(line.y_mm) < 0.05


def draw_sensors(plan: Plan) -> None:
    """Draw each sensor as a ring with a short arrow the way it looks."""
    for number, sensor in enumerate(plan.scene.sensors, start=1):
        point = (sensor.x_mm, sensor.y_mm)
        looking = plan.on.ahead(point, sensor.looking_deg, _LOOKING_MM)
        plan.draw(Arrow(plan.on.paper(point), looking, OUTLINE, name=f"sensor.{number}.looking"))
        plan.draw(Circle(plan.on.paper(point), SENSOR_RING_MM, OUTLINE, "paper", name=f"sensor.{number}"))


def draw_marks(plan: Plan) -> None:
    """Draw each mark as a cross that does not run along the vehicle's axes."""
    for number, mark in enumerate(plan.scene.marks, start=1):
        x, y = plan.on.paper((mark.x_mm, mark.y_mm))
        for arm in (MARK_ARM_MM, -MARK_ARM_MM):
            ends = (x - MARK_ARM_MM, y - arm), (x + MARK_ARM_MM, y + arm)
            plan.draw(Line(*ends, OUTLINE, name=f"mark.{number}" if arm > 0 else ""))


def draw_tapes(plan: Plan) -> None:
    """Draw where tapes run."""
    for number, (start, end) in enumerate(plan.scene.tapes, start=1):
        plan.draw(Line(plan.on.paper(start), plan.on.paper(end), DOTTED, name=f"tape.{number}"))


def draw_fixtures(plan: Plan) -> None:
    """Draw footprints, feet, reference points and the way each fixture faces."""
    for number, fixture in enumerate(plan.scene.fixtures, start=1):
        _draw_fixture(plan, fixture, f"fixture.{number}")


def _draw_fixture(plan: Plan, fixture: FixtureView, name: str) -> None:
    on = plan.on
    if fixture.footprint:
        plan.draw(Polygon(on.outline(fixture.footprint), OUTLINE, "hatch", name=f"{name}.footprint"))
    for number, foot in enumerate(fixture.feet, start=1):
        plan.draw(
            Circle(
                on.paper((foot.x_mm, foot.y_mm)), FOOT_RING_MM, THIN, "paper", name=f"{name}.foot.{number}"
            )
        )
    reference = on.paper(fixture.reference)
    if fixture.facing_deg is not None:
        ahead = on.ahead(fixture.reference, fixture.facing_deg, _FACING_MM)
        plan.draw(Arrow(reference, ahead, OUTLINE, name=f"{name}.facing"))
    plan.draw(Circle(reference, _REFERENCE_DOT_MM, None, "solid", name=f"{name}.reference"))


def _tyre(x: float, y: float) -> tuple[Point, ...]:
    long, wide = _TYRE_LENGTH_MM / 2, _TYRE_WIDTH_MM / 2
    return (x + long, y + wide), (x - long, y + wide), (x - long, y - wide), (x + long, y - wide)


def _across(plan: Plan, point: Point, direction_deg: float) -> tuple[Point, Point]:
    """Give the paper ends of a line through a point, a little past the bounds on both sides."""
    box, past = bounds(plan.scene), _PAST_EXTENT_MM * plan.on.scale
    turn = math.radians(direction_deg)
    enter, leave = -math.inf, math.inf
    for at, way, low, high in (
        (point[0], math.cos(turn), box.x_min_mm - past, box.x_max_mm + past),
        (point[1], math.sin(turn), box.y_min_mm - past, box.y_max_mm + past),
    ):
        if abs(way) > 1e-9:
            near, far = sorted(((low - at) / way, (high - at) / way))
            enter, leave = max(enter, near), min(leave, far)
    ux, uy = math.cos(turn), math.sin(turn)
    ends = tuple(plan.on.paper((point[0] + ux * t, point[1] + uy * t)) for t in (enter, leave))
    return ends[0], ends[1]
