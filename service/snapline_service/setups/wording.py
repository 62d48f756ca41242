"""A placement as a sentence that a person can work from: no signed number, every distance from a datum."""

from math import cos, radians

from snapline.wire.geometry import Placement

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


def length(value_mm: float) -> str:
    """Return a length without a sign, to the whole millimetre or one decimal."""
    rounded = round(abs(value_mm), 1)
    return f"{rounded:,.0f} mm" if rounded == int(rounded) else f"{rounded:,.1f} mm"


def along(placement: Placement, aim_yaw_deg: float) -> str:
    """Return where the reference point stands along the aim line."""
    distance, datum = placement.along.distance_mm, _datum(placement.along.datum)
    if distance == 0:
        return f"level with {datum}"
    if placement.aim_line.startswith("sensor:") and abs(cos(radians(aim_yaw_deg))) < 0.9:
        way = "out from" if distance > 0 else "back from"
        own = placement.along.datum == placement.aim_line
        axis = "its axis" if own else f"the axis of {_datum(placement.aim_line)}"
        return f"{length(distance)} {way} {datum} along {axis}"
    ahead = (distance > 0) == (cos(radians(aim_yaw_deg)) > 0)
    return f"{length(distance)} {'ahead of' if ahead else 'behind'} {datum}"


def lateral(placement: Placement, aim_yaw_deg: float) -> str:
    """Return how far the reference point stands to a side, sides as seen from the driver's seat."""
    distance = placement.lateral.distance_mm
    name = placement.aim_line if placement.lateral.datum == "aim_line" else placement.lateral.datum
    datum = _datum(name) if not name.startswith("sensor:") else f"the axis of {_datum(name)}"
    if distance == 0:
        return f"on {datum}" if not name.startswith("wheel:") else f"in line with {datum}"
    facing = cos(radians(aim_yaw_deg))
    if abs(facing) < 0.9:
        side = "left" if distance > 0 else "right"
        return f"{length(distance)} to the {side} of {datum}, looking along it"
    side = "left" if (distance > 0) == (facing > 0) else "right"
    return f"{length(distance)} {side} of {datum}"


def height(placement: Placement, reference_point: str) -> str:
    """Return the height of the reference point."""
    distance, datum = placement.height.distance_mm, _datum(placement.height.datum)
    if distance == 0:
        where = f"on {datum}" if placement.height.datum == "floor" else f"level with {datum}"
    else:
        where = f"{length(distance)} {'above' if distance > 0 else 'below'} {datum}"
    return f"{reference_point} {where}"


def sentence(placement: Placement, aim_yaw_deg: float, reference_point: str) -> str:
    """Return the whole placement in words."""
    parts = [along(placement, aim_yaw_deg)]
    if not (placement.lateral.distance_mm == 0 and parts[0].endswith("along its axis")):
        parts.append(lateral(placement, aim_yaw_deg))
    text = f"{', '.join(parts)}; {height(placement, reference_point)}"
    return text[0].upper() + text[1:] + "."


def _datum(name: str) -> str:
    if name.startswith("sensor:"):
        return f"the {name.removeprefix('sensor:').replace('_', ' ')}"
    return _DATUMS[name]
