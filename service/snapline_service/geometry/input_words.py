"""The words for inputs and names, the same wherever a sentence is for people; keys and pointers stay keys."""

from collections.abc import Iterable, Sequence

_SENSORS = "vehicle.sensors."
_FIELDS = {
    "x_mm": "distance from the rear axle",
    "y_mm": "distance from the centreline",
    "z_mm": "height",
    "yaw_deg": "direction",
    "pitch_deg": "tilt",
    "thrust_yaw_deg": "thrust line",
}
_WHOLE = {
    "placement.along.distance_mm": "the source's distance along the aim line",
    "placement.lateral.distance_mm": "the source's distance beside the aim line",
    "placement.height.distance_mm": "the source's height",
    "placement.yaw_deg": "the source's direction of the fixture",
    "bay_pose.x_mm": "the car's place along the bay",
    "bay_pose.y_mm": "the car's place across the bay",
    "bay_pose.heading_deg": "the car's heading in the bay",
}


def input_words(name: str) -> str:
    """Return an input as a person says it: 'front overhang', 'rear left radar's height'."""
    if name in _WHOLE:
        return _WHOLE[name]
    *owners, field = name.removeprefix("vehicle.").removeprefix("sensors.").split(".")
    words = _FIELDS.get(field) or spoken(field.rpartition("_")[0])
    return f"{spoken(owners[0])}'s {words}" if owners else words


def inputs_words(names: Iterable[str]) -> str:
    """Return inputs as a person lists them."""
    return listed([input_words(name) for name in names])


def is_of_sensor(name: str) -> bool:
    """Say whether an input belongs to a sensor, which no tape reaches behind a bumper."""
    return name.startswith(_SENSORS)


def spoken(name: str) -> str:
    """Return a name of the catalogue without its joints."""
    return name.replace("_", " ").replace("-", " ").replace("dbsm", "dBsm")


def listed(parts: Sequence[str]) -> str:
    """Return 'one', 'one and two' or 'one, two and three'."""
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"
