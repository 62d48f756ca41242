"""The points by which a car is brought to its place in a bay, each told by tapes from two walls."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from shapely import Polygon

from snapline.wire.common import BayPose, Point
from snapline.wire.setups import Setup
from snapline.wire.sites import Bay
from snapline.wire.visits import PlannedPose
from snapline_service.geometry.axes import turned
from snapline_service.geometry.squared_off import SquaredOff, squared_off
from snapline_service.geometry.values import VehicleGeometry
from snapline_service.geometry.vehicle_marks import CLEARANCE_MM, floor_barred_by, vehicle_marks
from snapline_service.setups.translation import geometry_of
from snapline_service.setups.wording import length
from snapline_service.sheets.document import Blank, Column, Table

_SQUARE = "Hold the tape square to the wall, level, on the floor."
_EMPTY_FLOOR = "Mark these on the empty floor, before the car comes in."
_WHERE = (
    f"straight out from the hub's centre, {length(CLEARANCE_MM)} beyond the tyre's side wall, "
    "plumbed to the floor"
)


@dataclass(frozen=True, slots=True)
class TapedPoints:
    """Points of a car in its place, what each is called, and their tapes from two walls."""

    names: tuple[str, ...]
    points: tuple[Point, ...]
    tapes: SquaredOff
    note: str = _SQUARE


def taped_points(setup: Setup, pose: PlannedPose, bay: Bay) -> TapedPoints | None:
    """Return the wheel marks of the side that is taped more easily, or else the middles of the axles.

    With the car in its place a tape reaches a wheel mark; the middle of an axle lies between the tyres.
    """
    car = geometry_of(setup.vehicle)
    marks = vehicle_marks(car, setup.tyre_width_mm).points
    body = [in_bay(outline, pose.pose) for outline in floor_barred_by(car, setup.tyre_width_mm)]
    found = []
    for side in ("left", "right"):
        names = [name for name in (f"front {side} wheel", f"rear {side} wheel") if name in marks]
        points = in_bay([(marks[name].x.value, marks[name].y.value) for name in names], pose.pose)
        tapes = _tapes(bay, points, body) if len(points) == 2 else None
        if tapes:
            said = tuple(f"{name.capitalize()} mark: {_WHERE}." for name in names)
            found.append(TapedPoints(said, points, tapes))
    return min(found, key=lambda one: one.tapes.effort) if found else _axle_middles(car, pose, bay)


def table(taped: TapedPoints) -> Table:
    """Return the tapes with room for what was set."""
    columns = [Column("Point", 88)]
    for wall in taped.tapes.walls:
        heading = f"From wall {wall + 1}, mm"
        if wall in taped.tapes.across_doors:
            heading = f"From the line of wall {wall + 1}, string across the door, mm"
        columns += [Column(heading, 31, is_figure=True), Column("As set", 17)]
    rows = tuple(
        (name, f"{one_mm:,.0f}", Blank(), f"{other_mm:,.0f}", Blank())
        for name, (one_mm, other_mm) in zip(taped.names, taped.tapes.distances_mm, strict=True)
    )
    return Table("Bring the car there", tuple(columns), rows, taped.note)


def in_bay(points: Iterable[Point], pose: BayPose) -> tuple[Point, ...]:
    """Return points of the car's own axes in those of the bay."""
    moved = (turned(point, pose.heading_deg) for point in points)
    return tuple((pose.x_mm + x, pose.y_mm + y) for x, y in moved)


def _axle_middles(car: VehicleGeometry, pose: PlannedPose, bay: Bay) -> TapedPoints | None:
    if not car.wheelbase_mm:
        return None
    points = in_bay([(car.wheelbase_mm, 0.0), (0.0, 0.0)], pose.pose)
    tapes = _tapes(bay, points, [])
    names = ("Middle of the front axle", "Middle of the rear axle")
    return TapedPoints(names, points, tapes, f"{_EMPTY_FLOOR} {_SQUARE}") if tapes else None


def _tapes(bay: Bay, points: Sequence[Point], body: Sequence[Sequence[Point]]) -> SquaredOff | None:
    standing = [one.polygon for one in bay.obstacles if not one.z_min_mm]
    doors = [(door.start, door.end) for door in bay.doors]
    return squared_off(bay.ring, points, doors, [Polygon(outline) for outline in (*body, *standing)])
