"""A placed fixture as its setting-out sees it: points on the floor, sight line, axes that are limited."""

from dataclasses import dataclass
from math import atan2, cos, degrees, hypot, inf, radians, sin

from snapline.wire.setups import PlacedFixture
from snapline_service.geometry import Point, Polygon, VehicleGeometry
from snapline_service.geometry.axes import turned
from snapline_service.geometry.datums import DatumPoint
from snapline_service.geometry.fixture_points import floor_points
from snapline_service.geometry.fixture_setting import Axis, Body, body, tolerance_of_each_point
from snapline_service.geometry.marks import Array
from snapline_service.geometry.setting_out import Tolerance, directions
from snapline_service.setups.translation import placement_of

# Aimed at by one point: their place counts, and bearing most of all.
_SINGLE_REFERENCE = {"corner_reflector", "doppler_simulator"}
_NOT_ON_THE_FLOOR = {"weight"}
_LIES_FLAT = {"mat"}


@dataclass(frozen=True, slots=True, eq=False)
class Standing:
    """One fixture to be set out. ``names`` are those of its points, ``targets`` the same within the stage."""

    item: PlacedFixture
    names: tuple[str, ...]
    targets: tuple[str, ...]
    at: dict[str, DatumPoint]
    held: Body
    basis: Array
    across_sight: bool
    sensor: str | None
    sight_deg: float
    sight_mm: float
    blocks: tuple[Polygon, ...]

    def critical(self, basis: Array) -> str:
        """Say which direction the pairs were chosen for."""
        is_own = bool(abs(float(basis[0] @ self.basis[0])) > 0.5)
        return f"{'across' if self.across_sight == is_own else 'along'} the line of sight"

    def tolerance(self, basis: Array) -> Tolerance:
        """Return how far each point may be off along a direction and across it."""
        return tolerance_of_each_point(self.held, [basis] * len(self.names))

    @property
    def aim_yaw_deg(self) -> float:
        """Return the direction of the aim line."""
        return self.item.in_vehicle.yaw_deg - self.item.placement.yaw_deg


def is_set_out(item: PlacedFixture) -> bool:
    """Say whether a fixture stands on the floor at all: a weight lies on a seat."""
    return item.fixture is None or item.fixture.fixture_kind not in _NOT_ON_THE_FLOOR


def standing(
    item: PlacedFixture, vehicle: VehicleGeometry, outlines: list[Polygon], allowance_sensor: str | None
) -> Standing:
    """Return a placed fixture with what its setting-out needs."""
    pose = item.in_vehicle
    reference = (pose.x_mm, pose.y_mm)
    kind = item.fixture.fixture_kind if item.fixture else ""
    single = kind in _SINGLE_REFERENCE or not item.fixture
    points = _points(item, outlines, single=single)
    alone = next(iter(points)) if single or len(points) == 1 else None
    sensor = _sensor(item, vehicle, allowance_sensor)
    sight = _sight(item, vehicle, sensor)
    across = single or len(points) == 1
    critical = (-sight[1], sight[0]) if across else sight
    aim_yaw_deg = pose.yaw_deg - item.placement.yaw_deg
    held = body(
        list(points.values()),
        reference,
        aim_yaw_deg,
        _limits(item),
        reference_is_a_point=alone is not None,
    )
    basis = directions(critical)
    arms = {f"{item.id}/{n}": (x - reference[0], y - reference[1]) for n, (x, y) in points.items()}
    return Standing(
        item=item,
        names=tuple(points),
        targets=tuple(arms),
        at=floor_points(vehicle, placement_of(item.placement), arms),
        held=held,
        basis=basis,
        across_sight=across,
        sensor=sensor,
        sight_deg=degrees(atan2(sight[1], sight[0])),
        sight_mm=hypot(*sight) if sensor else inf,
        blocks=() if kind in _LIES_FLAT else tuple(outlines),
    )


def _points(item: PlacedFixture, outlines: list[Polygon], *, single: bool) -> dict[str, Point]:
    pose = item.in_vehicle
    below = {
        f"below the {item.fixture.reference_point if item.fixture else 'reference point'}"[:120]: (
            pose.x_mm,
            pose.y_mm,
        )
    }
    feet = {foot.name: (foot.x_mm, foot.y_mm) for foot in item.feet}
    if single:
        return below | feet
    if len(feet) > 1:
        return feet
    return (_corners(outlines[0], item) if outlines and len(outlines[0]) == 4 else {}) or below


def _corners(outline: Polygon, item: PlacedFixture) -> dict[str, Point]:
    """Name the corners of a mat as feet are named: front is the way it faces."""
    pose = item.in_vehicle
    named = {}
    for x_mm, y_mm in outline:
        ahead, left = turned((x_mm - pose.x_mm, y_mm - pose.y_mm), -pose.yaw_deg)
        named[f"{'front' if ahead > 0 else 'rear'} {'left' if left > 0 else 'right'} corner"] = (x_mm, y_mm)
    return named if len(named) == len(outline) else {}


def _limits(item: PlacedFixture) -> dict[Axis, float]:
    """Return what the source limits, and where it is silent what the sensor's allowance does."""
    found: dict[Axis, float] = {}
    source, aim = item.tolerance, item.aim_tolerance
    for axis, own, allowed in (
        ("along", source and source.along_mm, aim and aim.along_mm),
        ("lateral", source and source.lateral_mm, aim and aim.lateral_mm),
        ("yaw", source and source.yaw_deg, None),
    ):
        if limit := own or allowed:
            found[axis] = limit  # type: ignore[index]
    return found


def _sensor(item: PlacedFixture, vehicle: VehicleGeometry, allowance_sensor: str | None) -> str | None:
    """Return the sensor that looks at a fixture: the one of the allowance, or one that it is placed by."""
    if allowance_sensor and item.aim_tolerance:
        return allowance_sensor
    sentence = item.placement
    for name in (sentence.aim_line, sentence.along.datum, sentence.lateral.datum, sentence.height.datum):
        if name.startswith("sensor:") and _apart(item, vehicle, name.removeprefix("sensor:")) > 1.0:
            return name.removeprefix("sensor:")
    return None


def _apart(item: PlacedFixture, vehicle: VehicleGeometry, sensor: str) -> float:
    at = vehicle.sensors[sensor]
    return hypot(item.in_vehicle.x_mm - at.x_mm, item.in_vehicle.y_mm - at.y_mm)


def _sight(item: PlacedFixture, vehicle: VehicleGeometry, sensor: str | None) -> Point:
    """Return the vector from the sensor, or the way one looks who faces the fixture."""
    pose = item.in_vehicle
    if sensor:
        at = vehicle.sensors[sensor]
        return pose.x_mm - at.x_mm, pose.y_mm - at.y_mm
    return -cos(radians(pose.yaw_deg)), -sin(radians(pose.yaw_deg))
