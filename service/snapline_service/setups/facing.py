"""Which way a fixture faces, in words: the car's own directions, never a signed angle."""

from collections.abc import Iterator

from snapline.wire.common import Pose
from snapline.wire.geometry import Placement

# By ISO 8855 yaw counts to the left: each way with the one that a turn to the left leads to.
_WAYS = (
    (0.0, "forwards", "the left"),
    (90.0, "to the left", "the rear"),
    (180.0, "rearwards", "the right"),
    (270.0, "to the right", "the front"),
)
_OTHER = {"the left": "the right", "the right": "the left", "the rear": "the front", "the front": "the rear"}
_NOTHING_DEG = 0.005


def facing(placement: Placement, pose: Pose) -> str:
    """Return how a fixture stands and faces, for example 'square to the centreline, facing rearwards'."""
    return ", ".join((*_to_the_line(placement), f"facing {direction(pose.yaw_deg)}", *_tilts(placement)))


def direction(yaw_deg: float) -> str:
    """Return a direction [degrees, ISO 8855] by the nearest of the car's four and how far it is from that."""
    nearest_deg, way, towards = min(_WAYS, key=lambda entry: abs(_difference(yaw_deg, entry[0])))
    off_deg = _difference(yaw_deg, nearest_deg)
    if abs(off_deg) < _NOTHING_DEG:
        return f"straight {way}" if way in ("forwards", "rearwards") else way
    return f"{way}, {degrees(off_deg)} towards {towards if off_deg > 0 else _OTHER[towards]}"


def degrees(angle_deg: float) -> str:
    """Return an angle without a sign, to a hundredth of a degree."""
    return f"{abs(round(angle_deg, 2)):g}°"


def _to_the_line(placement: Placement) -> tuple[str, ...]:
    line = line_name(placement.aim_line)
    relative_deg = abs(_difference(placement.yaw_deg, 0.0))
    if min(relative_deg, 180.0 - relative_deg) < _NOTHING_DEG:
        return (f"square to {line}",)
    return (f"along {line}",) if abs(relative_deg - 90.0) < _NOTHING_DEG else ()


def line_name(aim_line: str) -> str:
    """Return an aim line's name in a sentence."""
    if aim_line.startswith("sensor:"):
        return f"the axis of the {aim_line.removeprefix('sensor:').replace('_', ' ')}"
    return f"the {aim_line.replace('_', ' ')}"


def tilt(pitch_deg: float) -> str:
    """Return how a fixture is tilted [degrees, ISO 8855: nose down positive]."""
    if abs(pitch_deg) < _NOTHING_DEG:
        return "plumb"
    return f"tilted {degrees(pitch_deg)} {'down' if pitch_deg > 0 else 'up'}"


def lean(roll_deg: float) -> str:
    """Return how a fixture leans [degrees, ISO 8855: its left side up positive]."""
    if abs(roll_deg) < _NOTHING_DEG:
        return "level"
    return f"its {'left' if roll_deg > 0 else 'right'} side {degrees(roll_deg)} up"


def _tilts(placement: Placement) -> Iterator[str]:
    if abs(placement.pitch_deg) >= _NOTHING_DEG:
        yield tilt(placement.pitch_deg)
    if abs(placement.roll_deg) >= _NOTHING_DEG:
        yield lean(placement.roll_deg)


def _difference(first_deg: float, second_deg: float) -> float:
    return (first_deg - second_deg + 180.0) % 360.0 - 180.0
