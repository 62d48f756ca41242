"""Marks made from marks, against simulation of the very acts: string, tape and pencil."""

from collections.abc import Callable

import numpy as np
import pytest

from snapline_service.geometry.blockers import Blockers
from snapline_service.geometry.datums import DatumPoint, Measured
from snapline_service.geometry.made_marks import by_tapes, halfway, produced, taped
from snapline_service.geometry.marks import Array, Marks, from_inputs, independent
from snapline_service.geometry.setting_out import best_of, directions, rank, reachable
from snapline_service.geometry.tapes import tape

CLASS_II = tape("II", 10000.0)
N = 300_000
# Two marks with a common error, which is what a shared dimension makes.
POINTS = np.array([[0.0, 900.0], [2700.0, 850.0], [2700.0, -850.0]])
NAMES = ("rear", "front", "other")


def correlated() -> Marks:
    root = np.array(
        [
            [1.0, 0.0, 0.4, 0.0, 0.0, 0.0],
            [0.0, 1.2, 0.0, 0.5, 0.0, 0.0],
            [0.3, 0.0, 1.1, 0.0, 0.2, 0.0],
            [0.0, 0.6, 0.0, 1.0, 0.0, 0.0],
            [0.0, 0.0, 0.3, 0.0, 1.0, 0.1],
            [0.0, -0.6, 0.0, 0.2, 0.0, 1.0],
        ]
    )
    return Marks(NAMES, POINTS, root @ root.T)


def simulated(make: Callable[[dict[str, Array], np.random.Generator], Array]) -> Array:
    """Return the joint covariance of the marks and of what was made from their true places."""
    rng = np.random.default_rng(7)
    start = correlated()
    errors = rng.multivariate_normal(np.zeros(6), start.covariance_mm2, N)
    places = {name: POINTS[k] + errors[:, 2 * k : 2 * k + 2] for k, name in enumerate(NAMES)}
    return np.cov(np.hstack([errors, make(places, rng)]).T)


def assert_alike(found: Marks, by_simulation: Array) -> None:
    sds = np.sqrt(np.diag(by_simulation))
    assert np.sqrt(np.diag(found.covariance_mm2)) == pytest.approx(sds, rel=0.01)
    scale = np.outer(sds, sds)
    assert found.covariance_mm2 / scale == pytest.approx(by_simulation / scale, abs=0.01)


@pytest.mark.parametrize("aside_mm", [0.0, -8.0])
def test_the_middle_of_two_marks(aside_mm: float) -> None:
    found = halfway(correlated(), "middle", "rear", "front", u_marking_mm=0.8, aside_mm=aside_mm)

    def make(at: dict[str, Array], rng: np.random.Generator) -> Array:
        along = at["rear"] - at["front"]
        u = along / np.hypot(*along.T)[:, None]
        return np.asarray((at["rear"] + at["front"]) / 2 + aside_mm * u + rng.normal(0, 0.8, (N, 2)))

    if aside_mm == 0.0:
        assert found.point("middle") == (1350.0, 875.0)
    assert_alike(found, simulated(make))


def test_a_string_past_two_marks() -> None:
    beyond = 1500.0
    found = produced(correlated(), "ahead", ("rear", "front"), beyond, tape=CLASS_II, u_marking_mm=0.8)

    def make(at: dict[str, Array], rng: np.random.Generator) -> Array:
        along = at["front"] - at["rear"]
        u = along / np.hypot(*along.T)[:, None]
        reach = beyond + rng.normal(0, CLASS_II.u_of_mm(beyond), (N, 1))
        return np.asarray(at["front"] + reach * u + rng.normal(0, 0.8, (N, 2)))

    assert_alike(found, simulated(make))


def test_a_mark_by_two_tapes_carries_the_errors_of_both_marks() -> None:
    start, target = correlated(), (4300.0, 300.0)
    usable, _ = reachable(start, target, CLASS_II, [None, None, None], only=("front", "other"))
    best = best_of(usable, rank(usable, directions((1.0, 0.0)), 0.3), target)
    assert best
    found = by_tapes(start, "station", best, u_marking_mm=0.8)
    again = taped(start, "station", target, best.marks, tape=CLASS_II, u_marking_mm=0.8)
    assert again.covariance_mm2 == pytest.approx(found.covariance_mm2)

    def make(at: dict[str, Array], rng: np.random.Generator) -> Array:
        one, two = at["front"], at["other"]
        (d_one, d_two) = (
            mm + rng.normal(0, CLASS_II.u_of_mm(mm), N)
            for mm in (best.distances_mm[best.marks.index(name)] for name in ("front", "other"))
        )
        base = np.hypot(*(two - one).T)
        u = (two - one) / base[:, None]
        along = (d_one**2 - d_two**2 + base**2) / (2 * base)
        across = np.sqrt(d_one**2 - along**2)
        left = np.stack([-u[:, 1], u[:, 0]], axis=1)
        return np.asarray(one + along[:, None] * u + across[:, None] * left + rng.normal(0, 0.8, (N, 2)))

    assert_alike(found, simulated(make))


def test_marks_of_one_dimension_share_its_error() -> None:
    half = Measured(800.0, (("track", 0.5),))
    other = Measured(-800.0, (("track", -0.5),))
    points = {
        "left": DatumPoint(Measured(0.0), half),
        "right": DatumPoint(Measured(0.0), other),
    }
    found = from_inputs(points, {"left": 0.3}, {"track": 2.0, "unused": 5.0})
    assert found.covariance_mm2 == pytest.approx(
        np.array([[0.09, 0, 0, 0], [0, 1.09, 0, -1], [0, 0, 0, 0], [0, -1, 0, 1]])
    )


def test_what_moves_a_mark_and_its_target_alike_moves_no_tape() -> None:
    common = {"x": 5.0}
    moving = Measured(0.0, (("x", 1.0),))
    points = {
        "a": DatumPoint(moving, Measured(900.0)),
        "b": DatumPoint(moving, Measured(-900.0)),
        "target": DatumPoint(Measured(3000.0, (("x", 1.0),)), Measured(0.0)),
    }
    joint = from_inputs(points, dict.fromkeys("ab", 1.0), common)
    free = [None, None, None]

    def u_along(marks: Marks, target_row: int | None) -> float:
        usable, _ = reachable(marks, (3000.0, 0.0), CLASS_II, free, only=("a", "b"), target_row=target_row)
        best = best_of(usable, rank(usable, directions((1.0, 0.0)), 0.3), (3000.0, 0.0))
        assert best
        return best.u_critical_mm

    alone = independent({"a": (0.0, 900.0), "b": (0.0, -900.0), "target": (3000.0, 0.0)},
                        {"a": 1.0, "b": 1.0, "target": 0.0})  # fmt: skip
    assert u_along(joint, joint.index("target")) == pytest.approx(u_along(alone, None), rel=1e-9)
    assert u_along(joint, None) > 5.0


def test_hulls_block_and_what_encloses_nothing_does_not() -> None:
    blockers = Blockers.of_hulls([((0.0, 0.0), (100.0, 0.0)), ((0.0, 200.0), (10.0, 300.0), (0.0, 400.0))])
    starts = np.array([[50.0, -50.0], [-50.0, 300.0]])
    assert blockers.first_in_the_way(starts, (50.0, 300.0)) == [None, 0]
