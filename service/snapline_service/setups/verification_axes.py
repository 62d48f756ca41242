"""A fixture axis by axis: what was measured, what it is judged by, and what its uncertainty is made of."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from math import atan, degrees, hypot

from snapline.wire.geometry import Contribution
from snapline.wire.setups import PlacedFixture
from snapline.wire.verification import AxisVerification, MeasuredHeight, MeasuredTilt, VerifyRequest
from snapline_service.errors import InvalidValue
from snapline_service.faults import pointer
from snapline_service.geometry.conformity import Judgement, Verdict, judge
from snapline_service.geometry.input_words import inputs_words

NO_TOLERANCE = "No tolerance is stated."
NOT_MEASURED = "Not measured."
_UNITS = {"along": "mm", "lateral": "mm", "height": "mm", "yaw": "deg", "pitch": "deg", "roll": "deg"}


@dataclass(frozen=True, slots=True)
class Limit:
    """A tolerance, either way, and what it follows from."""

    size: float
    by: str


@dataclass(frozen=True, slots=True)
class Found:
    """An error, its standard uncertainty, and the variances that make it.

    ``unstated`` has how far each input of no stated uncertainty moves it [mm or degrees, per mm or degree].
    """

    error: float
    u: float
    parts: Mapping[str, float]
    unstated: Mapping[str, float] = field(default_factory=dict)


def limits_of(item: PlacedFixture) -> dict[str, Limit]:
    """Return what the source limits, and where it is silent what the sensor's allowance does."""
    found: dict[str, Limit] = {}
    for axis, unit in _UNITS.items():
        for stated, by in ((item.tolerance, "source"), (item.aim_tolerance, "aim_allowance")):
            size = getattr(stated, f"{axis}_{unit}", None)
            if size is not None and axis not in found:
                found[axis] = Limit(size, by)
    return found


def height_found(
    item: PlacedFixture, given: MeasuredHeight | None, standard_uncertainty: Mapping[str, float]
) -> Found | None:
    """Return how far the height is off, counted from the floor at the feet where that was read."""
    if given is None:
        return None
    on_floor = item.floor if item.floor and item.floor.height_setting_mm is not None else None
    nominal_mm = item.in_vehicle.z_mm
    if on_floor and on_floor.height_setting_mm is not None:
        nominal_mm = on_floor.height_setting_mm
    u_floor = (on_floor and on_floor.u_height_setting_mm) or 0.0
    datum = item.placement.height.datum
    sensor = f"vehicle.sensors.{datum.removeprefix('sensor:')}.z_mm" if datum != "floor" else None
    u_sensor = standard_uncertainty.get(sensor, 0.0) if sensor else 0.0
    return Found(
        error=given.height_mm - nominal_mm,
        u=hypot(given.u_mm, u_floor, u_sensor),
        parts={"reading": given.u_mm**2, "floor": u_floor**2, "vehicle": u_sensor**2},
        unstated={sensor: 1.0} if sensor and sensor not in standard_uncertainty else {},
    )


def tilts_found(item: PlacedFixture, request: VerifyRequest) -> dict[str, Found]:
    """Return how far pitch and roll are off, as far as they were read. Raises InvalidValue."""
    given = request.tilts.get(item.id)
    if given is None:
        return {}
    found = {}
    for axis in ("pitch", "roll"):
        read_deg = _angle(given, axis, item.id)
        if read_deg is not None:
            off = read_deg - getattr(item.in_vehicle, f"{axis}_deg")
            found[axis] = Found(off, given.u_deg, {"reading": given.u_deg**2})
    return found


def _angle(given: MeasuredTilt, axis: str, placement: str) -> float | None:
    angle_deg: float | None = getattr(given, f"{axis}_deg")
    slope_mm_per_m: float | None = getattr(given, f"{axis}_mm_per_m")
    if angle_deg is not None and slope_mm_per_m is not None:
        raise InvalidValue(
            f"The {axis} is given in degrees and in mm per metre.",
            pointer=pointer(["tilts", placement, f"{axis}_mm_per_m"]),
            mend="Give one of the two.",
        )
    return angle_deg if slope_mm_per_m is None else degrees(atan(slope_mm_per_m / 1000.0))


def judged(
    found: Mapping[str, Found], limits: Mapping[str, Limit], alpha: float
) -> Iterator[tuple[AxisVerification, Verdict | None]]:
    """Yield each axis that was measured or is limited, with its verdict as arithmetic alone has it."""
    for axis, unit in _UNITS.items():
        one, limit = found.get(axis), limits.get(axis)
        if one is None and limit is None:
            continue
        verdict = judge(one.error, one.u, limit.size, alpha) if one and limit else None
        word, reason = _said(one, limit, verdict)
        yield (
            AxisVerification(
                axis=axis,
                unit="mm" if unit == "mm" else "deg",
                error=one.error if one else None,
                u=one.u if one else None,
                tolerance=limit.size if limit else None,
                tolerance_from=limit.by if limit else None,
                verdict=word,
                probability=verdict.probability if verdict else None,
                reason=reason,
                budget=_shares(one.parts) if one else (),
            ),
            verdict,
        )


def _said(
    one: Found | None, limit: Limit | None, verdict: Verdict | None
) -> tuple[Judgement | None, str | None]:
    if limit is None:
        return None, NO_TOLERANCE
    if one is None or verdict is None:
        return "not_proven", NOT_MEASURED
    if one.unstated and verdict.verdict == "conforms":
        return "not_proven", f"It rests on figures of no stated uncertainty: {inputs_words(one.unstated)}."
    return verdict.verdict, None


def _shares(parts: Mapping[str, float]) -> tuple[Contribution, ...]:
    whole = sum(parts.values())
    largest_first = sorted(parts.items(), key=lambda part: (-part[1], part[0]))
    return tuple(
        Contribution(input=name, share=variance / whole) for name, variance in largest_first if variance > 0.0
    )
