"""The car and its fixtures in place in a bay, as a section of the visit's sheet."""

from collections.abc import Iterator
from math import cos, floor, radians, sin
from typing import Any

import msgspec

from snapline.offline import RevisionFile
from snapline.wire.common import BayPose, Point
from snapline.wire.setups import PlacedFixture, PlacementChoice, Setup, SetupRequest
from snapline.wire.sites import Bay
from snapline.wire.visits import PlannedPose, SitePlan, VisitPlan
from snapline_service.geometry.squared_off import squared_off
from snapline_service.setups.actions import compute
from snapline_service.setups.wording import length
from snapline_service.sheets.bay_view import BayScene, Shape, bay_drawing
from snapline_service.sheets.document import Blank, Column, Section, Table

_HALF_FOOT_MM = 60.0  # half the side of the square that stands for a fixture of unknown outline


def bay_section(
    file: RevisionFile, plan: VisitPlan, at: tuple[SitePlan, PlannedPose], bay: Bay, code: str
) -> Section:
    """Return the page of one pose: the bay from above, and what its numbers mean."""
    site, pose = at
    setups = [compute(file, _request(plan, site, pose, name)) for name in pose.procedures]
    placed = [(setup, item) for setup in setups for stage in setup.stages for item in stage.placements]
    scene = _scene(setups[0], [item for _, item in placed], pose, bay)
    rows = [("1", plan.vehicle_name, "", "")]
    for number, (setup, item) in enumerate(placed, 2):
        rows.append((str(number), _name(item), setup.procedure_name, item.sentence))
    obstacles = enumerate(bay.obstacles, len(placed) + 2)
    rows += [(str(number), obstacle.name, "", "in the bay") for number, obstacle in obstacles]
    columns = (Column("No.", 8), Column("What", 45), Column("For", 45), Column("Where", 60))
    note = f"The least distance to a wall or obstacle is {length(floor(pose.margin_mm))}."
    tables = (*_line_up(scene), Table("In the bay", columns, tuple(rows), note))
    return Section(f"{pose.bay_name}: where the car stands", code, tables, bay_drawing(scene))


def _line_up(scene: BayScene) -> Iterator[Table]:
    """Yield the tapes by which the car is brought to its place, where two walls can be taped from."""
    found = squared_off(scene.ring, scene.axles)
    if found is None:
        return
    tape = [Column(f"From wall {wall + 1}, mm", 28, is_figure=True) for wall in found.walls]
    columns = (Column("Point", 50), tape[0], Column("As set", 20), tape[1], Column("As set", 20))
    rows = tuple(
        (f"Middle of the {axle} axle", f"{one_mm:,.0f}", Blank(), f"{other_mm:,.0f}", Blank())
        for axle, (one_mm, other_mm) in zip(("front", "rear"), found.distances_mm, strict=True)
    )
    yield Table(
        "Bring the car there", columns, rows, "Hold the tape square to the wall, level, on the floor."
    )


def _request(plan: VisitPlan, site: SitePlan, pose: PlannedPose, procedure: str) -> SetupRequest:
    chosen: dict[str, dict[str, Any]] = {}
    for used in site.assets:
        if used.procedure == procedure:
            chosen.setdefault(used.placement, {})[f"{used.role}_id"] = used.fixture
    for distance in pose.distances:
        if distance.procedure == procedure:
            chosen.setdefault(distance.placement, {})["along_distance_mm"] = distance.along_distance_mm
    return SetupRequest(
        vehicle_id=plan.vehicle_id,
        procedure_id=procedure,
        placements={name: msgspec.convert(fields, PlacementChoice) for name, fields in chosen.items()},
        by_property=any(used.match == "by_property" for used in site.assets),
    )


def _scene(setup: Setup, placed: list[PlacedFixture], pose: PlannedPose, bay: Bay) -> BayScene:
    car = setup.vehicle
    rear_mm = -(car.rear_overhang_mm or 0.0)
    front_mm = (car.wheelbase_mm or 0.0) + (car.front_overhang_mm or 0.0)
    half_mm = (car.width_mm or 0.0) / 2
    outline = ((rear_mm, -half_mm), (front_mm, -half_mm), (front_mm, half_mm), (rear_mm, half_mm))
    first_obstacle = len(placed) + 2
    return BayScene(
        name=bay.name,
        ring=bay.ring,
        doors=tuple((door.start, door.end) for door in bay.doors),
        obstacles=tuple(Shape(one.polygon, str(n)) for n, one in enumerate(bay.obstacles, first_obstacle)),
        vehicle=Shape(_in_bay(outline, pose.pose), "1"),
        tail=_in_bay(((rear_mm, 0.0),), pose.pose)[0],
        nose=_in_bay(((front_mm, 0.0),), pose.pose)[0],
        axles=_in_bay(((car.wheelbase_mm or 0.0, 0.0), (0.0, 0.0)), pose.pose),
        fixtures=tuple(Shape(_in_bay(_outline(item), pose.pose), str(n)) for n, item in enumerate(placed, 2)),
        clear_zones=tuple(Shape(_in_bay(item.clear_zone, pose.pose)) for item in placed if item.clear_zone),
    )


def _outline(item: PlacedFixture) -> tuple[Point, ...]:
    if item.footprint:
        return item.footprint
    x, y, half = item.in_vehicle.x_mm, item.in_vehicle.y_mm, _HALF_FOOT_MM
    return (x - half, y - half), (x + half, y - half), (x + half, y + half), (x - half, y + half)


def _in_bay(points: tuple[Point, ...], pose: BayPose) -> tuple[Point, ...]:
    return tuple(_turned(point, pose) for point in points)


def _turned(point: Point, pose: BayPose) -> Point:
    c, s = cos(radians(pose.heading_deg)), sin(radians(pose.heading_deg))
    return pose.x_mm + c * point[0] - s * point[1], pose.y_mm + s * point[0] + c * point[1]


def _name(item: PlacedFixture) -> str:
    names = [one.name for one in (item.fixture, item.carrier) if one]
    return ", on ".join(names) or item.capability.replace("_", " ")
