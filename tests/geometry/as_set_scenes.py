"""Boards ahead of invented cars, what a tape shows of them, and a reference that shares no code with ours."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, radians, sin

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from snapline_service.geometry.as_set_values import Body, Distance, FloorPose, Height
from snapline_service.geometry.marks import Marks, independent

Array = NDArray[np.float64]
BOARD = ((280.0, 520.0), (280.0, -520.0), (-320.0, 520.0), (-320.0, -520.0))
AT_HEIGHT = Height(1400.0, 1400.0, 0.5)
TOLERANCE = {"x_mm": 5.0, "y_mm": 4.0, "yaw_deg": 0.4, "height_mm": 3.0}


@dataclass(frozen=True)
class Scene:
    """Marks, a board and the pairs that are measured, with the tape's standard uncertainty."""

    marks: Marks
    body: Body
    pairs: tuple[tuple[str, int], ...]
    u_tape_mm: float = 0.8

    def lengths(self, pose: FloorPose, points: Array | None = None) -> Array:
        """Return the true distances with the board at a pose and the marks where they really are."""
        at = self.marks.points_mm if points is None else points
        return feet_of(self.body, pose, [foot for _, foot in self.pairs], at[self.rows])

    @property
    def rows(self) -> list[int]:
        return [self.marks.names.index(mark) for mark, _ in self.pairs]

    def distances(self, lengths: Array) -> list[Distance]:
        """Return lengths as measured distances."""
        return [
            Distance(mark, foot, float(length), self.u_tape_mm)
            for (mark, foot), length in zip(self.pairs, lengths, strict=True)
        ]

    def measured(self, pose: FloorPose, rng: np.random.Generator) -> list[Distance]:
        """Return what a tape shows: marks are off by one error each, each distance by its own."""
        root = np.linalg.cholesky(self.marks.covariance_mm2)
        points = self.marks.points_mm + (root @ rng.normal(size=len(root))).reshape(-1, 2)
        noise = self.u_tape_mm * rng.normal(size=len(self.pairs))
        return self.distances(self.lengths(pose, points) + noise)


def feet_of(body: Body, pose: FloorPose, feet: Sequence[int], marks: Array) -> Array:
    """Return distances from marks to feet, by complex numbers."""
    turn = np.exp(1j * radians(pose.yaw_deg))
    at = np.array([complex(*body.feet[foot]) for foot in feet]) * turn + complex(pose.x_mm, pose.y_mm)
    return np.asarray(np.abs(at - (marks[:, 0] + 1j * marks[:, 1])))


def front_board(u_mark_mm: float = 1.0, u_tape_mm: float = 0.8) -> Scene:
    """Return a board three metres ahead of a car, ten distances from five marks to its front feet."""
    points = {
        "FL": (2760.0, 905.0),
        "FR": (2760.0, -905.0),
        "CL": (3600.0, 700.0),
        "CR": (3600.0, -700.0),
        "S": (6000.0, 2600.0),
    }
    marks = independent(points, dict.fromkeys(points, u_mark_mm))
    body = Body(BOARD, FloorPose(6050.0, 0.0, 180.0))
    return Scene(marks, body, tuple((m, f) for m in points for f in (0, 1)), u_tape_mm)


def random_scene(rng: np.random.Generator) -> Scene:
    """Return marks round about a board that faces any way, and at least four distances from three or more."""
    count = int(rng.integers(3, 7))
    angles = rng.uniform(0, 2 * np.pi) + np.arange(count) * rng.uniform(0.5, 2.0)
    ranges = rng.uniform(1500, 4500, size=count)
    points = {
        f"M{i}": (float(r * cos(a)), float(r * sin(a)))
        for i, (r, a) in enumerate(zip(ranges, angles, strict=True))
    }
    marks = independent(points, {name: float(rng.uniform(0.3, 1.5)) for name in points})
    x_mm, y_mm, yaw_deg = (float(rng.uniform(-size, size)) for size in (300, 300, 180))
    body = Body(BOARD, FloorPose(x_mm, y_mm, yaw_deg))
    every = [(name, foot) for name in points for foot in (0, 1, 2)]
    chosen = [(name, int(rng.integers(0, 2))) for name in points]
    rest = [pair for pair in every if pair not in chosen]
    rng.shuffle(rest)
    chosen += [(name, foot) for name, foot in rest[: max(4 - len(chosen), int(rng.integers(1, 5)))]]
    return Scene(marks, body, tuple(chosen), float(rng.uniform(0.4, 1.5)))


def total_least_squares(scene: Scene, distances: Sequence[Distance]) -> tuple[Array, Array]:
    """Return x, y, yaw [mm, degrees] and their covariance by scipy, the marks being unknowns of their own."""
    observed = np.array([one.distance_mm for one in distances])
    whiten = np.linalg.inv(np.linalg.cholesky(scene.marks.covariance_mm2))
    feet = [one.foot for one in distances]

    def misfits(unknown: Array) -> Array:
        points = unknown[3:].reshape(-1, 2)
        lengths = feet_of(scene.body, FloorPose(*unknown[:3]), feet, points[scene.rows])
        return np.concatenate(
            [(observed - lengths) / scene.u_tape_mm, whiten @ (points - scene.marks.points_mm).ravel()]
        )

    nominal = scene.body.nominal
    start = [nominal.x_mm, nominal.y_mm, nominal.yaw_deg, *scene.marks.points_mm.ravel()]
    found = least_squares(misfits, start, x_scale="jac", xtol=1e-14, ftol=1e-14, gtol=1e-14)
    slopes = np.asarray(found.jac)
    return np.asarray(found.x[:3]), np.linalg.inv(slopes.T @ slopes)[:3, :3]
