"""The thrust line from the toe of the rear wheels."""

from dataclasses import dataclass
from math import sqrt


@dataclass(frozen=True, slots=True)
class ThrustLine:
    """The direction of the thrust line, positive to the left (ISO 8855), and its standard uncertainty."""

    thrust_yaw_deg: float
    u_deg: float | None


def from_rear_toe(left_deg: float, right_deg: float, u_deg: float | None = None) -> ThrustLine:
    """Return the thrust line: (right - left) / 2, the bisector of the two rear wheels' directions.

    Toe-in is positive on either side: more toe-in on the left wheel turns the line to the right. Alignment
    print-outs usually count a thrust angle positive to the right, the other way round. ``u_deg`` is that of
    one wheel's toe; the two are read independently.
    """
    return ThrustLine((right_deg - left_deg) / 2.0, None if u_deg is None else u_deg / sqrt(2.0))
