"""Points of a vehicle that a person can bring to the floor, and where exactly to measure.

A wheel's centre is brought down outside the tyre: half the track, half the tyre's width and a clearance out
from the centreline, level with the hub. Corners of the body are not among them: bumpers are round, and
nobody knows from overhang and width where their corners are.
"""

from dataclasses import dataclass

from snapline_service.errors import MissingDimension
from snapline_service.geometry.datums import (
    LINE_X_TERMS,
    WHEEL_TERMS,
    ZERO,
    DatumPoint,
    Measured,
    sum_of_dimensions,
)
from snapline_service.geometry.values import Polygon, VehicleGeometry

CLEARANCE_MM = 50.0  # room for a plumb line beside a bulging tyre; common practice, no source
MARKING_U_MM = 1.0  # plumb line and pencil; common practice, no source
TYRE_WIDTH = "vehicle.tyre_width_mm"
# So far before and behind the hub a tyre bars a tape on the floor: beyond, its tread stands more than 30 mm
# above the floor. Common practice, no source.
TYRE_HALF_LENGTH_MM = 150.0

WHEELS = {
    "front left wheel": "wheel:front_left",
    "front right wheel": "wheel:front_right",
    "rear left wheel": "wheel:rear_left",
    "rear right wheel": "wheel:rear_right",
}
BUMPERS = {"front bumper": "front_bumper", "rear bumper": "rear_bumper"}


@dataclass(frozen=True, slots=True)
class VehicleMarks:
    """The marks that a vehicle's dimensions give, and for each one left out the dimension that is missing."""

    points: dict[str, DatumPoint]
    left_out: dict[str, str]


def vehicle_marks(
    vehicle: VehicleGeometry, tyre_width_mm: float | None, clearance_mm: float = CLEARANCE_MM
) -> VehicleMarks:
    """Return wheel marks outside the tyres and the middles of the bumpers, as far as dimensions are known."""
    points: dict[str, DatumPoint] = {}
    left_out: dict[str, str] = {}
    for name, datum in (WHEELS | BUMPERS).items():
        try:
            if name in BUMPERS:
                points[name] = DatumPoint(sum_of_dimensions(vehicle, LINE_X_TERMS[datum]), ZERO)
            else:
                points[name] = _beside_tyre(vehicle, datum, tyre_width_mm, clearance_mm)
        except MissingDimension as error:
            left_out[name] = error.pointer.removeprefix("/").replace("/", ".")
    return VehicleMarks(points, left_out)


def _beside_tyre(
    vehicle: VehicleGeometry, datum: str, tyre_width_mm: float | None, clearance_mm: float
) -> DatumPoint:
    x_terms, y_terms = WHEEL_TERMS[datum]
    x, centre = sum_of_dimensions(vehicle, x_terms), sum_of_dimensions(vehicle, y_terms)
    if tyre_width_mm is None:
        raise MissingDimension("The tyre's width is not known.", pointer=f"/{TYRE_WIDTH.replace('.', '/')}")
    out = 1.0 if datum.endswith("left") else -1.0
    y_mm = centre.value + out * (tyre_width_mm / 2.0 + clearance_mm)
    return DatumPoint(x, Measured(y_mm, (*centre.slopes, (TYRE_WIDTH, out / 2.0))))


def floor_barred_by(
    vehicle: VehicleGeometry, tyre_width_mm: float | None, *, under_vehicle: bool = False
) -> list[Polygon]:
    """Return what of the vehicle bars a tape that lies on the floor.

    The tyres always do. Between the axles the way is taken to be barred, because nobody can see or pull a
    tape straight there, unless ``under_vehicle`` says that it is clear. Under the overhangs a tape passes.
    Without the dimensions the whole is empty, and there are no wheel marks either.
    """
    if tyre_width_mm is None or not vehicle.front_track_mm or not vehicle.rear_track_mm:
        return []
    half, ahead = tyre_width_mm / 2.0, TYRE_HALF_LENGTH_MM
    front_x, front, rear = (
        vehicle.wheelbase_mm or 0.0,
        vehicle.front_track_mm / 2.0,
        vehicle.rear_track_mm / 2.0,
    )
    if not under_vehicle:
        return [_quadrilateral(-ahead, rear + half, front_x + ahead, front + half)]
    return [
        ((x - ahead, y - half), (x + ahead, y - half), (x + ahead, y + half), (x - ahead, y + half))
        for x, y in ((front_x, front), (front_x, -front), (0.0, rear), (0.0, -rear))
    ]


def _quadrilateral(rear_x: float, rear_y: float, front_x: float, front_y: float) -> Polygon:
    return (rear_x, -rear_y), (front_x, -front_y), (front_x, front_y), (rear_x, rear_y)
