"""A placement as a sentence that a person can work from: no signed number, every distance from a datum."""

from collections.abc import Iterable, Iterator
from math import cos, radians

from snapline.wire.common import Source
from snapline.wire.geometry import Placement
from snapline_service.sheets.lengths import Units, length_figure

_DATUMS = {
    "front_bumper": "the front bumper",
    "rear_bumper": "the rear bumper",
    "front_axle": "the front axle",
    "rear_axle": "the rear axle",
    "wheel:front_left": "the front left wheel centre",
    "wheel:front_right": "the front right wheel centre",
    "wheel:rear_left": "the rear left wheel centre",
    "wheel:rear_right": "the rear right wheel centre",
    "centreline": "the centreline",
    "thrust_line": "the thrust line",
    "floor": "the floor",
}

# Within one degree of the vehicle's own axis 'ahead of' and 'behind' are true to 0.2 mm in a metre.
_STRAIGHT = cos(radians(1.0))


def unchecked(places: Iterable[str], sources: Iterable[Source]) -> Iterator[str]:
    """Yield what nobody has compared with its source, by the titles of the documents."""
    titles = {source.id: f"{source.title}, {source.edition}" for source in sources}
    for place in places:
        name, comma, locator = place.partition(", ")
        yield f"UNCHECKED: not compared with {titles.get(name, name)}{comma}{locator}"


def length(value_mm: float, units: Units = "mm") -> str:
    """Return a length without a sign: to the millimetre or one decimal, or to a sixteenth of an inch."""
    if units == "in":
        return f"{length_figure(value_mm, units)} in"
    rounded = round(abs(value_mm), 1)
    return f"{rounded:,.0f} mm" if rounded == int(rounded) else f"{rounded:,.1f} mm"


def along(placement: Placement, aim_yaw_deg: float, units: Units = "mm") -> str:
    """Return where the reference point stands along the aim line."""
    distance, datum = placement.along.distance_mm, _datum(placement.along.datum)
    if distance == 0:
        return f"level with {datum}"
    if _is_oblique(placement, aim_yaw_deg):
        way = "out from" if distance > 0 else "back from"
        axis = "its axis" if placement.along.datum == placement.aim_line else _line(placement.aim_line)
        return f"{length(distance, units)} {way} {datum} along {axis}"
    ahead = (distance > 0) == (cos(radians(aim_yaw_deg)) > 0)
    return f"{length(distance, units)} {'ahead of' if ahead else 'behind'} {datum}"


def lateral(placement: Placement, aim_yaw_deg: float, units: Units = "mm") -> str | None:
    """Return how far the reference point stands to a side, as seen from the driver's seat.

    None where 'along its axis' has said already that it stands on that axis.
    """
    distance, name = placement.lateral.distance_mm, placement.lateral.datum
    own = name in ("aim_line", placement.aim_line)
    if own and distance == 0 and along(placement, aim_yaw_deg).endswith("along its axis"):
        return None
    datum = _line(placement.aim_line) if own else _datum(name)
    looking = ""
    # From the centreline a distance counts across the vehicle, whichever way the aim line points.
    if _is_oblique(placement, aim_yaw_deg) and name != "centreline":
        looking = f", looking along {'it' if own else _line(placement.aim_line)}"
    if distance == 0:
        return f"on {datum}" if own or name == "centreline" else f"in line with {datum}{looking}"
    if looking:
        return f"{length(distance, units)} to the {'left' if distance > 0 else 'right'} of {datum}{looking}"
    side = "left" if (distance > 0) == (cos(radians(aim_yaw_deg)) > 0) else "right"
    return f"{length(distance, units)} {side} of {datum}"


def height(placement: Placement, reference_point: str, units: Units = "mm") -> str:
    """Return the height of the reference point."""
    distance, datum = placement.height.distance_mm, _datum(placement.height.datum)
    if distance == 0:
        where = f"on {datum}" if placement.height.datum == "floor" else f"level with {datum}"
    else:
        where = f"{length(distance, units)} {'above' if distance > 0 else 'below'} {datum}"
    return f"{reference_point} {where}"


def sentence(placement: Placement, aim_yaw_deg: float, reference_point: str, units: Units = "mm") -> str:
    """Return the whole placement in words."""
    across = lateral(placement, aim_yaw_deg, units)
    where = ", ".join(part for part in (along(placement, aim_yaw_deg, units), across) if part)
    text = f"{where}; {height(placement, reference_point, units)}"
    return text[0].upper() + text[1:] + "."


def _is_oblique(placement: Placement, aim_yaw_deg: float) -> bool:
    return placement.aim_line.startswith("sensor:") and abs(cos(radians(aim_yaw_deg))) < _STRAIGHT


def _line(name: str) -> str:
    return f"the axis of {_datum(name)}" if name.startswith("sensor:") else _datum(name)


def _datum(name: str) -> str:
    if name.startswith("sensor:"):
        return f"the {name.removeprefix('sensor:').replace('_', ' ')}"
    return _DATUMS[name]
