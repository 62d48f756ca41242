"""What goes into an as-set check and what comes out of it; lengths in mm, angles in degrees."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from snapline_service.geometry.aim import AimError
from snapline_service.geometry.axes import turned
from snapline_service.geometry.conformity import Outcome, Verdict
from snapline_service.geometry.outliers import Checked, GlobalTest
from snapline_service.geometry.values import Located, Point


@dataclass(frozen=True, slots=True)
class FloorPose:
    """Where a body stands on the floor and which way it faces, yaw positive counter-clockwise from above."""

    x_mm: float
    y_mm: float
    yaw_deg: float


@dataclass(frozen=True, slots=True)
class Body:
    """A rigid fixture: its feet in its own frame, and the pose near which it stands.

    With ``yaw_known`` its direction is taken as nominal: a body of which one point was measured has none.
    ``names`` are what a person calls the feet; without them they are counted from 0, as in a request.
    """

    feet: tuple[Point, ...]
    nominal: FloorPose
    yaw_known: bool = False
    names: tuple[str, ...] = ()

    def name(self, foot: int) -> str:
        """Return what a person calls a foot."""
        return self.names[foot] if self.names else f"foot {foot}"

    def feet_at(self, pose: FloorPose) -> list[Point]:
        """Return where the feet are when the body stands at a pose."""
        turns = (turned(foot, pose.yaw_deg) for foot in self.feet)
        return [(pose.x_mm + x_mm, pose.y_mm + y_mm) for x_mm, y_mm in turns]


@dataclass(frozen=True, slots=True)
class Distance:
    """A measured distance from a mark to a foot of a body; ``u_mm`` is that of the tape alone.

    ``target`` names, among the marks, where the foot should be, if that is uncertain too: what moves mark and
    target alike then moves no error.
    """

    mark: str
    foot: int
    distance_mm: float
    u_mm: float
    body: int = 0
    target: str | None = None


@dataclass(frozen=True, slots=True)
class Height:
    """The nominal height of the reference point, the one measured, and its standard uncertainty."""

    nominal_mm: float
    measured_mm: float | None = None
    u_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Aim:
    """The sensor that looks at the fixture, and the range at which a miss is counted."""

    sensor: Located
    range_mm: float


@dataclass(frozen=True, slots=True)
class Levels:
    """``alpha`` of the global test and at each limit; ``alpha_outlier`` of a single distance, two-sided."""

    alpha: float = 0.05
    alpha_outlier: float = 0.001


@dataclass(frozen=True, slots=True, eq=False)
class AsSet:
    """The pose as set with its standard uncertainty (k = 1), and what follows from it.

    ``covariance`` is in the order x, y, yaw with mm, mm and degrees. Verdicts are by axis (x_mm, y_mm,
    yaw_deg, height_mm), None without a tolerance.
    """

    pose: FloorPose
    u: FloorPose
    covariance: NDArray[np.float64]
    chi2: GlobalTest
    observations: tuple[Checked, ...]
    verdicts: Mapping[str, Verdict | None]
    joint_probability: float | None
    outcome: Outcome
    aim: AimError | None = None
    advice: tuple[str, ...] = ()
