"""A vehicle's geometry as measured, and how surely each input is known."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from typing import Any

from msgspec import Struct

from snapline.wire.catalogue import VehicleDocument
from snapline.wire.setups import SetupRequest
from snapline_service import plausible
from snapline_service.errors import InvalidValue, UnknownName
from snapline_service.faults import nearest, pointer
from snapline_service.geometry import Placement, VehicleGeometry, check, place
from snapline_service.geometry.input_words import input_words
from snapline_service.geometry.uncertainty import require_uncertainties
from snapline_service.geometry.vehicle_marks import TYRE_WIDTH
from snapline_service.setups.readings import tyre_width, with_rear_toe
from snapline_service.setups.translation import vehicle_geometry

_SENSOR = "vehicle.sensors."
_SENSOR_FIELDS = ("x_mm", "y_mm", "z_mm", "yaw_deg", "pitch_deg")
_DIMENSIONS = (
    "wheelbase_mm",
    "front_track_mm",
    "rear_track_mm",
    "front_overhang_mm",
    "rear_overhang_mm",
    "width_mm",
    "thrust_yaw_deg",
)
_SENTENCE = (
    "placement.along.distance_mm",
    "placement.lateral.distance_mm",
    "placement.height.distance_mm",
    "placement.yaw_deg",
)


class Inputs(Struct, frozen=True):
    """What a setup is computed from. ``measured`` names the inputs that a person measured on the car."""

    vehicle: VehicleGeometry
    standard_uncertainty: Mapping[str, float]
    measured: tuple[str, ...]
    tyre_width_mm: float | None = None
    u_tyre_width_mm: float | None = None


def gather(vehicle: VehicleDocument, request: SetupRequest) -> Inputs:
    """Put a request's measurements in the place of catalogue figures.

    The catalogue's uncertainty of an input holds until the request states another: a measurement alone does
    not make an answer surer. Raises UnknownName, InvalidValue.
    """
    request = with_rear_toe(request)
    tyre_width_mm, u_tyre_width_mm = tyre_width(vehicle, request)
    geometry = vehicle_geometry(vehicle)
    for name, value in _without_tyre(request.measured).items():
        before = geometry
        geometry = _with(geometry, name, value)
        _require_plausible(before, name, value)
        try:
            check(geometry)
        except InvalidValue as error:
            detail = f"The {input_words(name)} cannot be {value:,g}."
            raise InvalidValue(detail, pointer=pointer(["measured", name]), mend=error.mend) from None
    stated = _without_tyre(request.standard_uncertainty)
    require_uncertainties(geometry, stated)
    known = _without_tyre(vehicle.standard_uncertainty) | stated
    measured = tuple(sorted(_without_tyre(request.measured)))
    return Inputs(geometry, known, measured, tyre_width_mm, u_tyre_width_mm)


def _without_tyre(values: Mapping[str, float]) -> dict[str, float]:
    """Return values by input less the tyre's width, which places marks and no fixture."""
    return {name: value for name, value in values.items() if name != TYRE_WIDTH}


def inputs_without_uncertainty(
    inputs: Inputs, placements: Iterable[Placement], bay_pose: Any
) -> tuple[str, ...]:
    """Return the inputs that move or turn a fixture and that no uncertainty is known for."""
    names = [f"vehicle.{name}" for name in _DIMENSIONS]
    names += [f"{_SENSOR}{sensor}.{field}" for sensor in inputs.vehicle.sensors for field in _SENSOR_FIELDS]
    names += _SENTENCE
    names += ["bay_pose.x_mm", "bay_pose.y_mm", "bay_pose.heading_deg"] if bay_pose else []
    unknown = {name: 1.0 for name in names if name not in inputs.standard_uncertainty}
    moving: set[str] = set()
    for placement in placements:
        placed = place(inputs.vehicle, placement, bay_pose=bay_pose, standard_uncertainty=unknown)
        moving |= {part.input for part in placed.contributions or () if part.share > 0}
        moving.update(_lifting_or_turning(placement))
    return tuple(name for name in names if name in moving and name in unknown)


def _lifting_or_turning(placement: Placement) -> Iterator[str]:
    yield from ("placement.height.distance_mm", "placement.yaw_deg")
    if placement.height.datum.startswith("sensor:"):
        yield f"{_SENSOR}{placement.height.datum.removeprefix('sensor:')}.z_mm"
    if placement.aim_line.startswith("sensor:"):
        yield f"{_SENSOR}{placement.aim_line.removeprefix('sensor:')}.yaw_deg"
    elif placement.aim_line == "thrust_line":
        yield "vehicle.thrust_yaw_deg"


def _require_plausible(catalogue: VehicleGeometry, name: str, value: float) -> None:
    """Raise InvalidValue for a measurement that cannot be of this vehicle, such as one in metres."""
    field, words = name.rpartition(".")[2], input_words(name)
    if not field.endswith("_mm"):
        return
    if name.startswith(_SENSOR):
        known = getattr(catalogue.sensors[name.removeprefix(_SENSOR).rpartition(".")[0]], field)
    else:
        known = getattr(catalogue, field)
    if known is not None and not plausible.agrees(value, known):
        detail = f"The {words} was measured as {value:,g} mm and the catalogue has {known:,g} mm."
        mend = "Measure again, in millimetres; if it is right, this is another vehicle."
        raise InvalidValue(detail, pointer=pointer(["measured", name]), mend=mend)
    if known is None and not plausible.is_dimension(field, value):
        low, high = plausible.RANGES_MM[field]
        mend = f"Measure again, in millimetres: {low:,g} to {high:,g} mm is usual."
        detail = f"The {words} cannot be {value:,g} mm."
        raise InvalidValue(detail, pointer=pointer(["measured", name]), mend=mend)


def _with(geometry: VehicleGeometry, name: str, value: float) -> VehicleGeometry:
    field = name.removeprefix("vehicle.")
    if name.startswith("vehicle.") and field in _DIMENSIONS:
        dimension: dict[str, Any] = {field: value}
        return replace(geometry, **dimension)
    sensor, _, field = name.removeprefix(_SENSOR).rpartition(".")
    if name.startswith(_SENSOR) and sensor in geometry.sensors and field in _SENSOR_FIELDS:
        moved = replace(geometry.sensors[sensor], **{field: value})
        return replace(geometry, sensors={**geometry.sensors, sensor: moved})
    known = [TYRE_WIDTH, *(f"vehicle.{name}" for name in _DIMENSIONS)]
    known += [f"{_SENSOR}{sensor}.{field}" for sensor in geometry.sensors for field in _SENSOR_FIELDS]
    detail = f"'{name[:100]}' is not something to measure on this vehicle."
    raise UnknownName(detail, pointer=pointer(["measured", name]), mend=nearest(name, known))
