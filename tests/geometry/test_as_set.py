"""The as-set check: against total least squares, a reference library, and simulated measuring."""

from dataclasses import replace
from math import atan2, degrees, hypot, radians, sqrt, tan

import GTC  # type: ignore[import-untyped]
import numpy as np
import pytest
from hypothesis import given, reject
from hypothesis import strategies as st

from geometry.as_set_scenes import (
    AT_HEIGHT,
    BOARD,
    TOLERANCE,
    Scene,
    front_board,
    random_scene,
    total_least_squares,
)
from snapline_service.errors import InvalidValue
from snapline_service.geometry import Position
from snapline_service.geometry.as_set import check_as_set
from snapline_service.geometry.as_set_distances import Distances, fit
from snapline_service.geometry.as_set_values import Aim, AsSet, Body, Distance, FloorPose, Height, Levels
from snapline_service.geometry.axes import turned
from snapline_service.geometry.marks import Marks, independent
from snapline_service.geometry.outliers import detectable, global_test, w_tests


def check(scene: Scene, distances: list[Distance], **changes: object) -> AsSet:
    given = {"height": AT_HEIGHT, "tolerances": TOLERANCE, **changes}
    return check_as_set(scene.marks, scene.body, distances, **given)  # type: ignore[arg-type]


def off(nominal: FloorPose, x_mm: float, y_mm: float, yaw_deg: float) -> FloorPose:
    return FloorPose(nominal.x_mm + x_mm, nominal.y_mm + y_mm, nominal.yaw_deg + yaw_deg)


def wrapped(angle_deg: float) -> float:
    return (angle_deg + 180.0) % 360.0 - 180.0


@pytest.mark.parametrize("seed", range(60))
def test_pose_and_uncertainty_are_those_of_total_least_squares(seed: int) -> None:
    rng = np.random.default_rng(seed)
    scene = random_scene(rng)
    pose = off(scene.body.nominal, rng.normal(0, 8), rng.normal(0, 8), rng.normal(0, 0.5))
    distances = scene.measured(pose, rng)
    at, covariance = total_least_squares(scene, distances)
    found = check(scene, distances)
    assert (found.pose.x_mm, found.pose.y_mm) == pytest.approx(at[:2], abs=0.02)
    assert wrapped(found.pose.yaw_deg - at[2]) == pytest.approx(0, abs=0.002)
    u = (found.u.x_mm, found.u.y_mm, found.u.yaw_deg)
    assert u == pytest.approx(np.sqrt(np.diag(covariance)), rel=0.02)
    assert found.covariance / np.outer(u, u) == pytest.approx(
        covariance / np.outer(*[np.sqrt(np.diag(covariance))] * 2), abs=0.02
    )


def test_marks_that_are_correlated_are_weighed_as_total_least_squares_does() -> None:
    rng = np.random.default_rng(5)
    scene = front_board()
    root = rng.normal(0, 0.8, size=(10, 10))
    together = replace(scene, marks=replace(scene.marks, covariance_mm2=root @ root.T + np.eye(10) * 0.1))
    distances = together.measured(together.body.nominal, rng)
    at, covariance = total_least_squares(together, distances)
    found = check(together, distances)
    assert (found.pose.x_mm, found.pose.y_mm) == pytest.approx(at[:2], abs=0.02)
    assert sqrt(found.covariance[2, 2]) == pytest.approx(sqrt(covariance[2, 2]), rel=0.02)


def test_the_uncertainty_of_a_pose_is_that_of_a_reference_library() -> None:
    # GTC (Measurement Standards Laboratory of New Zealand) follows every error through the solution of three
    # circles: two for the first foot, then the yaw from a third mark to the second foot.
    marks = {"A": (0.0, 1500.0), "B": (0.0, -1500.0), "C": (2500.0, -2500.0)}
    feet = ((0.0, 0.0), (1000.0, 0.0))
    body = Body(feet, FloorPose(2000.0, 100.0, -80.0))
    scene = Scene(
        independent(marks, {"A": 1.0, "B": 0.6, "C": 1.4}), body, (("A", 0), ("B", 0), ("C", 1)), 0.9
    )
    lengths = scene.lengths(body.nominal)
    found = check(scene, scene.distances(lengths))

    u_mark = {"A": 1.0, "B": 0.6, "C": 1.4}
    at = {name: (GTC.ureal(x, u_mark[name]), GTC.ureal(y, u_mark[name])) for name, (x, y) in marks.items()}
    d_a, d_b, d_c = (GTC.ureal(float(length), 0.9) for length in lengths)
    (ax, ay), (bx, by), (cx, cy) = at["A"], at["B"], at["C"]
    base = GTC.sqrt((bx - ax) ** 2 + (by - ay) ** 2)
    along = (d_a**2 - d_b**2 + base**2) / (2 * base)
    across = GTC.sqrt(d_a**2 - along**2)
    ux, uy = (bx - ax) / base, (by - ay) / base
    x, y = ax + along * ux - across * uy, ay + along * uy + across * ux
    # The angle at the first foot between the ways to C and to the second foot, by the law of cosines.
    to_c = GTC.sqrt((cx - x) ** 2 + (cy - y) ** 2)
    angle = GTC.acos((to_c**2 + 1000.0**2 - d_c**2) / (2 * to_c * 1000.0))
    towards_c = GTC.atan2(cy - y, cx - x)
    yaw = min(
        (towards_c + sign * angle for sign in (1, -1)),
        key=lambda way: abs(wrapped(degrees(GTC.value(way)) + 80.0)),
    )
    assert (found.pose.x_mm, found.pose.y_mm) == pytest.approx((GTC.value(x), GTC.value(y)), abs=1e-6)
    assert found.pose.yaw_deg == pytest.approx(degrees(GTC.value(yaw)), abs=1e-9)
    u = (GTC.uncertainty(x), GTC.uncertainty(y), degrees(GTC.uncertainty(yaw)))
    assert (found.u.x_mm, found.u.y_mm, found.u.yaw_deg) == pytest.approx(u, rel=1e-6)
    assert found.covariance[0, 1] / (u[0] * u[1]) == pytest.approx(GTC.get_correlation(x, y), abs=1e-6)
    assert found.covariance[1, 2] / (u[1] * u[2]) == pytest.approx(GTC.get_correlation(y, yaw), abs=1e-6)


def test_monte_carlo_scatters_as_predicted_and_healthy_sets_are_rejected_at_the_stated_rate() -> None:
    rng = np.random.default_rng(42)
    scene, sets = front_board(), 4000
    poses, rejected = np.empty((sets, 3)), 0
    for row in range(sets):
        distances = scene.measured(scene.body.nominal, rng)
        fitted = fit(Distances(scene.marks, [scene.body], distances), distances)
        poses[row] = fitted.at
        rejected += not global_test(fitted, 0.05).passed
    assert 0.04 <= rejected / sets <= 0.06
    assert poses.std(axis=0) == pytest.approx(np.sqrt(np.diag(fitted.covariance)), rel=0.04)
    assert poses.mean(axis=0) == pytest.approx([6050, 0, 180], abs=0.1)


def test_leaving_out_the_marks_error_would_halve_what_is_stated() -> None:
    # The pitfall: with marks as sure as the tape, half of the variance and more is theirs.
    scene = front_board(u_mark_mm=1.2, u_tape_mm=0.6)
    exact = replace(scene, marks=replace(scene.marks, covariance_mm2=scene.marks.covariance_mm2 * 1e-9))
    lengths = scene.lengths(scene.body.nominal)
    with_marks, without = (check(one, one.distances(lengths)) for one in (scene, exact))
    assert without.u.x_mm < 0.5 * with_marks.u.x_mm
    assert without.u.y_mm < 0.5 * with_marks.u.y_mm


def test_the_smallest_detectable_slip_is_found_four_times_in_five() -> None:
    # Power 0.80 at the two-sided level 0.001: 3.29 + 0.84 standard deviations (Baarda 1968).
    assert detectable(0.001) == pytest.approx(4.13, abs=0.005)
    rng = np.random.default_rng(7)
    scene, row, sets = front_board(), 3, 2500
    mdb_mm = check(scene, scene.distances(scene.lengths(scene.body.nominal))).observations[row].mdb
    assert mdb_mm
    found = 0
    for _ in range(sets):
        distances = scene.measured(scene.body.nominal, rng)
        distances[row] = replace(distances[row], distance_mm=distances[row].distance_mm + mdb_mm)
        w = w_tests(fit(Distances(scene.marks, [scene.body], distances), distances), 0.001)[row].w
        found += w is not None and w > 3.2905
    assert 0.77 <= found / sets <= 0.83


@pytest.mark.parametrize("slip_mm", [25.0, -25.0, 1000.0, -1000.0])
def test_a_slip_is_found_and_named_and_only_that(slip_mm: float) -> None:
    rng = np.random.default_rng(3)
    scene = front_board()
    for row in range(len(scene.pairs)):
        distances = scene.measured(scene.body.nominal, rng)
        distances[row] = replace(distances[row], distance_mm=distances[row].distance_mm + slip_mm)
        found = check(scene, distances)
        assert found.outcome == "measurements_disagree"
        assert [one.suspect for one in found.observations] == [i == row for i in range(10)]
        assert np.sign(found.observations[row].w or 0) == np.sign(slip_mm)


def test_with_one_distance_to_spare_a_slip_is_found_but_nobody_is_named() -> None:
    scene = replace(front_board(), pairs=(("FL", 0), ("FR", 1), ("S", 0), ("S", 1)))
    distances = scene.distances(scene.lengths(scene.body.nominal) + np.array([0.0, 40.0, 0.0, 0.0]))
    found = check(scene, distances)
    assert found.chi2.dof == 1
    assert found.outcome == "measurements_disagree"
    assert len({round(abs(one.w), 9) for one in found.observations if one.w is not None}) == 1
    assert not any(one.suspect for one in found.observations)


def test_with_nothing_to_spare_nothing_is_tested_and_nothing_proven() -> None:
    scene = replace(front_board(0.01, 0.01), pairs=(("FL", 0), ("FR", 1), ("S", 0)))
    good = check(scene, scene.distances(scene.lengths(scene.body.nominal)))
    assert (good.chi2.dof, good.chi2.passed, good.chi2.critical) == (0, None, None)
    assert {one.verdict for one in good.verdicts.values() if one} == {"conforms"}
    assert good.outcome == "not_proven"
    assert all((one.w, one.mdb, one.suspect) == (None, None, False) for one in good.observations)
    bad = check(scene, scene.distances(scene.lengths(off(scene.body.nominal, 40, 0, 0))))
    assert bad.outcome == "does_not_conform"


def test_a_distance_that_no_other_checks_says_so() -> None:
    # The only distance to the second foot: the yaw rests on it alone.
    scene = replace(front_board(), pairs=(("FL", 0), ("FR", 0), ("S", 0), ("CR", 1)))
    found = check(scene, scene.distances(scene.lengths(scene.body.nominal)))
    assert [one.w is None for one in found.observations] == [False, False, False, True]
    assert found.observations[3].mdb is None


def test_measuring_twice_helps_against_the_tape_and_not_against_the_mark() -> None:
    once = replace(front_board(), pairs=(("FL", 0), ("FR", 1), ("S", 0)))
    often = replace(once, pairs=once.pairs * 40)
    nominal = once.body.nominal
    u_once, u_often = (check(s, s.distances(s.lengths(nominal))).u for s in (once, often))
    exact_tape = replace(once, u_tape_mm=1e-6)
    u_marks = check(exact_tape, exact_tape.distances(exact_tape.lengths(nominal))).u
    assert u_marks.x_mm < u_often.x_mm < u_once.x_mm
    assert u_often.x_mm == pytest.approx(u_marks.x_mm, rel=0.01)


def test_yaw_wraps_at_a_half_turn() -> None:
    scene = front_board(0.1, 0.1)
    found = check(scene, scene.distances(scene.lengths(FloorPose(6050, 0, -179.95))))
    assert found.pose.yaw_deg == pytest.approx(-179.95)
    assert found.verdicts["yaw_deg"]
    assert found.verdicts["yaw_deg"].verdict == "conforms"
    turned_back = replace(scene, body=replace(scene.body, nominal=FloorPose(6050, 0, -180)))
    assert (
        check(turned_back, scene.distances(scene.lengths(FloorPose(6050, 0, 179.95)))).outcome == "conforms"
    )


def test_aim_is_the_change_of_bearing_and_elevation_seen_from_the_sensor() -> None:
    scene = front_board(0.1, 0.1)
    sensor = Position(2300.0, 50.0, 1290.0)
    found = check(
        scene,
        scene.distances(scene.lengths(FloorPose(6070, 12, 180))),
        height=Height(1400, 1406, 1),
        aim=Aim(sensor, 80_000),
    )
    assert found.aim
    bearing = degrees(atan2(12 - 50, 6070 - 2300) - atan2(-50, 6050 - 2300))
    assert found.aim.yaw_error_deg == pytest.approx(bearing, abs=1e-9)
    assert bearing > 0  # the board went to the left
    up = degrees(atan2(116, hypot(3770, -38)) - atan2(110, hypot(3750, 50)))
    assert found.aim.elevation_error_deg == pytest.approx(up, abs=1e-9)
    assert found.aim.lateral_miss_mm == pytest.approx(80_000 * tan(radians(bearing)))


def test_height_is_judged_by_itself_and_counts() -> None:
    scene = front_board(0.1, 0.1)
    distances = scene.distances(scene.lengths(scene.body.nominal))
    high = check(scene, distances, height=Height(1400, 1405, 0.5))
    assert high.verdicts["height_mm"]
    assert high.verdicts["height_mm"].verdict == "does_not_conform"
    assert high.outcome == "does_not_conform"
    level = check(scene, distances, height=Height(1400, 1401, 0.5))
    without = check(scene, distances, height=Height(1400, 1401))
    assert level.verdicts["height_mm"]
    assert without.verdicts["height_mm"] is None
    assert without.joint_probability
    assert level.joint_probability == pytest.approx(
        without.joint_probability * level.verdicts["height_mm"].probability
    )


@given(
    seed=st.integers(0, 10_000),
    x_mm=st.floats(-20_000, 20_000),
    y_mm=st.floats(-20_000, 20_000),
    turn_deg=st.floats(-180, 180),
)
def test_shifting_and_turning_the_whole_scene_changes_nothing(
    seed: int, x_mm: float, y_mm: float, turn_deg: float
) -> None:
    rng = np.random.default_rng(seed)
    scene = random_scene(rng)
    pose = off(scene.body.nominal, rng.normal(0, 6), rng.normal(0, 6), rng.normal(0, 0.4))
    distances = scene.measured(pose, rng)

    def moved(point: tuple[float, float]) -> tuple[float, float]:
        x, y = turned(point, turn_deg)
        return x + x_mm, y + y_mm

    marks = scene.marks
    elsewhere = Marks(
        marks.names, np.array([moved(marks.point(name)) for name in marks.names]), marks.covariance_mm2
    )
    was = scene.body.nominal
    nominal = FloorPose(*moved((was.x_mm, was.y_mm)), was.yaw_deg + turn_deg)
    try:
        here = check(scene, distances)
    except InvalidValue:  # marks in a line fix no pose, wherever the scene lies
        reject()
    there = check(replace(scene, marks=elsewhere, body=Body(BOARD, nominal)), distances)
    assert (there.pose.x_mm, there.pose.y_mm) == pytest.approx(
        moved((here.pose.x_mm, here.pose.y_mm)), abs=1e-4
    )
    assert wrapped(there.pose.yaw_deg - here.pose.yaw_deg - turn_deg) == pytest.approx(0, abs=1e-5)
    assert there.chi2.value == pytest.approx(here.chi2.value, rel=1e-4, abs=1e-6)
    for one, two in zip(here.observations, there.observations, strict=True):
        assert one.residual == pytest.approx(two.residual, abs=1e-4)
        assert (one.w is None, one.suspect) == (two.w is None, two.suspect)
    # Place along and across turns with the scene; what does not turn stays.
    assert there.u.yaw_deg == pytest.approx(here.u.yaw_deg, rel=1e-4)
    assert hypot(there.u.x_mm, there.u.y_mm) == pytest.approx(hypot(here.u.x_mm, here.u.y_mm), rel=1e-4)
    assert there.verdicts["yaw_deg"]
    assert here.verdicts["yaw_deg"]
    assert there.verdicts["yaw_deg"].probability == pytest.approx(
        here.verdicts["yaw_deg"].probability, abs=1e-4
    )


def test_levels_are_those_asked_for() -> None:
    scene = front_board()
    distances = scene.measured(scene.body.nominal, np.random.default_rng(1))
    usual, strict = check(scene, distances), check(scene, distances, levels=Levels(0.01, 0.01))
    # Upper points of chi-squared with 7 degrees of freedom, from printed tables: 14.067 and 18.475.
    assert usual.chi2.critical == pytest.approx(14.067, abs=5e-4)
    assert strict.chi2.critical == pytest.approx(18.475, abs=5e-4)
    # Level 0.01 two-sided with power 0.80: 2.576 + 0.842.
    assert usual.observations[0].mdb
    assert strict.observations[0].mdb == pytest.approx(usual.observations[0].mdb * 3.4175 / 4.1321, rel=1e-4)
