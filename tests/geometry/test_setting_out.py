"""Setting out a point with two tapes, against closed forms, simulation and exact circles."""

from math import cos, hypot, pi, radians, sin, sqrt

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from geometry.circles import two_points
from snapline_service.errors import InvalidValue
from snapline_service.geometry.blockers import Blockers
from snapline_service.geometry.marks import Marks, independent
from snapline_service.geometry.setting_out import (
    SettingOut,
    Tolerance,
    distance_tolerances,
    is_left_of,
    set_out,
)
from snapline_service.geometry.tapes import Tape, laser_meter, tape

NOTHING = Blockers(())
CLASS_II = tape("II", 10000.0)
FRONT = {
    "front left": (2810.0, 945.0),
    "front right": (2810.0, -945.0),
    "front bumper": (3680.0, 0.0),
    "far right": (2810.0, -1545.0),
}
Place = tuple[float, float]


def found(
    points: dict[str, Place],
    target: Place,
    *,
    u_mm: float = 1.5,
    direction: Place = (1.0, 0.0),
    blockers: Blockers = NOTHING,
    with_tape: Tape = CLASS_II,
    tolerance: Tolerance = Tolerance(5.0, 10.0),  # noqa: B008 - frozen
) -> SettingOut:
    marks = independent(points, dict.fromkeys(points, u_mm))
    return set_out(
        marks,
        target,
        critical_direction=direction,
        tolerance=tolerance,
        tape=with_tape,
        blockers=blockers,
    )


def known(value: float | None) -> float:
    assert value is not None
    return value


def test_two_tapes_of_equal_uncertainty_in_closed_form() -> None:
    # (-0.78, 0) and (0.78, 0) m to (0, 3): s_x = 2.810062 s across, s_y = 0.730616 s, computed elsewhere.
    meter = laser_meter(1.2 * sqrt(3.0), 5000.0)  # 1.2 mm and 0.5 mm of reading: 1.3 mm
    two = {"a": (-780.0, 0.0), "b": (780.0, 0.0)}
    across = found(two, (0.0, 3000.0), u_mm=0.0, with_tape=meter)
    along = found(two, (0.0, 3000.0), u_mm=0.0, with_tape=meter, direction=(0.0, -2.0))
    assert across.u_critical_mm == pytest.approx(2.810062 * 1.3, rel=1e-6)
    assert along.u_critical_mm == pytest.approx(0.730616 * 1.3, rel=1e-6)
    assert across.u_position_mm == pytest.approx(1.3 * hypot(2.810062, 0.730616), rel=1e-6)
    assert across.check is None


def test_a_trilateration_of_ghilani_has_its_covariance_and_error_ellipse() -> None:
    # Ghilani, Adjustment Computations, example 14.2: inputs as published, Q by scipy's least squares.
    control = np.array([[865.40, 4527.15], [2432.55, 2047.25], [2865.22, 27.15]])
    unknown = np.array([6861.31679, 3727.81857])
    towards = unknown - control
    g = towards / np.hypot(towards[:, 0], towards[:, 1])[:, None]
    # The information of the three pairs adds up to twice that of the triple, Q^-1 = G'G.
    pairs = [(0, 1), (0, 2), (1, 2)]
    information = np.zeros((2, 2))
    for i, j in pairs:
        marks = Marks(("a", "b"), control[[i, j]], np.zeros((4, 4)))
        pair = [
            set_out(
                marks,
                (float(unknown[0]), float(unknown[1])),
                critical_direction=direction,
                tolerance=Tolerance(),
                tape=laser_meter(sqrt(3.0 * 0.75), 1e5),  # sd 1 with 0.5 of reading
                blockers=NOTHING,
                min_sin_angle=0.01,
            )
            for direction in ((1.0, 0.0), (0.0, 1.0), (1.0, 1.0))
        ]
        xx, yy, mixed = (known(one.u_critical_mm) ** 2 for one in pair)
        xy = mixed - (xx + yy) / 2
        information += np.linalg.inv([[xx, xy], [xy, yy]])
    q = np.linalg.inv(information / 2)  # every tape stands in two pairs
    assert q[0, 0] == pytest.approx(0.630189, rel=1e-5)
    assert q[0, 1] == pytest.approx(-0.728354, rel=1e-5)
    assert q[1, 1] == pytest.approx(2.494689, rel=1e-5)
    axes = np.sqrt(np.linalg.eigvalsh(q)) * 0.097659
    assert axes == pytest.approx([0.06015, 0.16182], abs=1e-5)
    assert np.linalg.inv(g.T @ g) == pytest.approx(q)


def test_simulated_tapes_scatter_as_predicted() -> None:
    rng = np.random.default_rng(20261)
    target = (5200.0, 520.0)
    answer = found(FRONT, target, direction=(3.0, 1.0))
    one, two = (each.mark for each in answer.distances)
    n = 400_000
    points = [np.array(FRONT[name]) + rng.normal(0.0, 1.5, (n, 2)) for name in (one, two)]
    radii = [
        each.distance_mm + rng.normal(0.0, CLASS_II.u_of_mm(each.distance_mm), n) for each in answer.distances
    ]
    # The tapes are pulled from where the marks really are: exact circles, no linearisation.
    base = points[1] - points[0]
    length = np.hypot(base[:, 0], base[:, 1])
    unit = base / length[:, None]
    along = (radii[0] ** 2 - radii[1] ** 2 + length**2) / (2 * length)
    across = np.sqrt(radii[0] ** 2 - along**2)
    side = 1.0 if is_left_of(target, FRONT[one], FRONT[two]) else -1.0
    normal = side * np.stack([-unit[:, 1], unit[:, 0]], axis=1)
    stood = points[0] + along[:, None] * unit + across[:, None] * normal
    off = stood - np.array(target)
    critical = off @ (np.array([3.0, 1.0]) / sqrt(10.0))
    assert float(critical.std()) == pytest.approx(known(answer.u_critical_mm), rel=0.01)
    assert float(np.sqrt((off.var(axis=0)).sum())) == pytest.approx(known(answer.u_position_mm), rel=0.01)
    # The third tape is pulled from its own mark to where the point came to stand.
    assert answer.check
    third = np.array(FRONT[answer.check.mark]) + rng.normal(0.0, 1.5, (n, 2))
    read = np.hypot(*(stood - third).T) + rng.normal(0.0, CLASS_II.u_of_mm(answer.check.distance_mm), n)
    assert float((read - answer.check.distance_mm).std()) == pytest.approx(answer.check.u_mm, rel=0.01)


def _exact_corners(
    answer: SettingOut, points: dict[str, Place], target: Place, off_mm: float
) -> list[np.ndarray]:
    (one, d_one), (two, d_two) = ((each.mark, each.distance_mm) for each in answer.distances)
    left = is_left_of(target, points[one], points[two])
    moved = []
    for a in (-off_mm, off_mm):
        for b in (-off_mm, off_mm):
            meet = two_points(points[one], points[two], d_one + a, d_two + b)
            assert meet
            moved.append(np.array(meet[0 if left else 1]) - np.array(target))
    return moved


@pytest.mark.parametrize("target", [(5200.0, 520.0), (4600.0, -700.0), (5900.0, 0.0), (-2500.0, 300.0)])
@pytest.mark.parametrize("angle_deg", [0.0, 30.0, 90.0, 200.0])
def test_the_worst_case_tolerance_is_that_of_exact_circles(target: Place, angle_deg: float) -> None:
    direction = (cos(radians(angle_deg)), sin(radians(angle_deg)))
    answer = found(FRONT, target, direction=direction)
    off_mm = answer.distances[0].tolerance_worst_mm
    assert answer.distances[1].tolerance_worst_mm == off_mm
    moved = _exact_corners(answer, FRONT, target, off_mm)
    critical = max(abs(float(each @ np.array(direction))) for each in moved)
    other = max(abs(float(each @ np.array([-direction[1], direction[0]]))) for each in moved)
    assert max(critical / 5.0, other / 10.0) == pytest.approx(1.0, rel=0.01)


def test_the_likely_tolerance_keeps_95_in_100_inside() -> None:
    rng = np.random.default_rng(5)
    target = (5200.0, 520.0)
    answer = found(FRONT, target, tolerance=Tolerance(5.0, 1e6))
    sd = answer.distances[0].tolerance_95_mm / 1.959964
    (one, d_one), (two, d_two) = ((each.mark, each.distance_mm) for each in answer.distances)
    left = is_left_of(target, FRONT[one], FRONT[two])
    inside = 0
    for a, b in rng.normal(0.0, sd, (40_000, 2)):
        meet = two_points(FRONT[one], FRONT[two], d_one + a, d_two + b)
        assert meet
        inside += abs(meet[0 if left else 1][0] - target[0]) <= 5.0
    assert inside / 40_000 == pytest.approx(0.95, abs=0.004)


def test_a_direction_without_limit_asks_nothing_of_the_tapes() -> None:
    by_axis = np.array([[0.8, 0.4], [0.5, -1.5]])
    worst, likely = distance_tolerances(by_axis, Tolerance(critical_mm=6.0))
    assert (worst, likely) == pytest.approx((5.0, 6.0 / sqrt(0.8)))


def _turned(point: Place, angle: float, shift: Place) -> Place:
    c, s = cos(angle), sin(angle)
    return c * point[0] - s * point[1] + shift[0], s * point[0] + c * point[1] + shift[1]


coordinate = st.floats(-4000.0, 4000.0).map(lambda v: round(v, 3))
places = st.tuples(coordinate, coordinate)
scenes = st.dictionaries(st.sampled_from([f"m{i}" for i in range(12)]), places, min_size=2, max_size=12)


@settings(max_examples=150)
@given(scenes, places, places, st.floats(-pi, pi), places)
def test_turning_and_shifting_the_whole_scene_changes_nothing(
    points: dict[str, Place], target: Place, direction: Place, angle: float, shift: Place
) -> None:
    assume(hypot(*direction) > 1.0)
    car = ((-150.0, -900.0), (2960.0, -900.0), (2960.0, 900.0), (-150.0, 900.0))
    wall = ((-1000.0, 1500.0), (1000.0, 1500.0))
    # A tape that all but touches a corner, and a sine at the very limit, may tip either way.
    assume(all(hypot(target[0] - x, target[1] - y) > 1.0 for x, y in points.values()))
    first = found(points, target, direction=direction, blockers=Blockers((car, wall)))
    again = found(
        {name: _turned(point, angle, shift) for name, point in points.items()},
        _turned(target, angle, shift),
        direction=_turned(direction, angle, (0.0, 0.0)),
        blockers=Blockers(
            [tuple(_turned(corner, angle, shift) for corner in outline) for outline in (car, wall)]
        ),
    )
    assert again.feasible == first.feasible
    assert [each.marks for each in again.ranking] == [each.marks for each in first.ranking]
    assert [each.u_critical_mm for each in again.ranking] == pytest.approx(
        [each.u_critical_mm for each in first.ranking], rel=1e-6
    )
    if first.feasible:
        assert again.u_position_mm == pytest.approx(known(first.u_position_mm), rel=1e-6)
        assert [each.tolerance_worst_mm for each in again.distances] == pytest.approx(
            [each.tolerance_worst_mm for each in first.distances], rel=1e-6
        )
        assert (again.check and again.check.mark) == (first.check and first.check.mark)


@settings(max_examples=100)
@given(scenes, places)
def test_the_ranking_is_in_order_and_starts_with_the_pair_that_is_given(
    points: dict[str, Place], target: Place
) -> None:
    answer = found(points, target)
    if not answer.feasible:
        assert answer.reasons
        assert (answer.distances, answer.check, answer.u_critical_mm, answer.ranking) == ((), None, None, ())
        return
    assert tuple(each.mark for each in answer.distances) == answer.ranking[0].marks
    assert answer.u_critical_mm == answer.ranking[0].u_critical_mm
    sds = [each.u_critical_mm for each in answer.ranking]
    assert sds == pytest.approx(sorted(sds), abs=1e-8)
    assert known(answer.sin_angle) >= 0.3 - 1e-9
    for each in answer.distances:
        x, y = points[each.mark]
        assert each.distance_mm == pytest.approx(hypot(target[0] - x, target[1] - y))
    if len(points) == 2:
        assert answer.check is None


def test_mirror_images_are_ordered_by_name() -> None:
    mirrored = {"b": (0.0, 700.0), "a": (0.0, -700.0), "c": (900.0, 0.0)}
    answer = found(mirrored, (2400.0, 0.0), direction=(0.0, 1.0))
    assert answer.ranking[0].marks == ("a", "b")
    tied = [each.marks for each in answer.ranking[1:]]
    assert tied == sorted(tied)


def test_marks_that_were_measured_from_each_other_are_surer_than_they_look() -> None:
    points = np.array([[0.0, 900.0], [0.0, -900.0]])
    common = np.tile(np.eye(2) * 9.0, (2, 2)) + np.eye(4) * 0.25
    shared = Marks(("left", "right"), points, common)
    apart = Marks(("left", "right"), points, np.diag(np.diag(common)))

    def u_across(marks: Marks) -> float:
        answer = set_out(
            marks,
            (3000.0, 0.0),
            critical_direction=(0.0, 1.0),
            tolerance=Tolerance(),
            tape=CLASS_II,
            blockers=NOTHING,
        )
        return known(answer.u_critical_mm)

    # Marks that err together carry the point along by as much and no more: 3 mm.
    tapes_only = u_across(Marks(shared.names, points, np.eye(4) * 0.25))
    assert u_across(shared) == pytest.approx(hypot(tapes_only, 3.0), rel=1e-9)
    assert u_across(apart) > 2.0 * u_across(shared)


@pytest.mark.parametrize("target", [(5200.0, 520.0), (4600.0, -700.0), (-2500.0, 300.0)])
def test_the_check_is_the_tape_that_sees_both_distances_best(target: Place) -> None:
    points = FRONT | {"rear left": (0.0, 950.0), "rear right": (0.0, -950.0)}
    answer = found(points, target)
    (one, d_one), (two, d_two) = ((each.mark, each.distance_mm) for each in answer.distances)
    side = 0 if is_left_of(target, points[one], points[two]) else 1

    def reading(third: str, a: float, b: float) -> float:
        meet = two_points(points[one], points[two], d_one + a, d_two + b)
        assert meet
        return hypot(meet[side][0] - points[third][0], meet[side][1] - points[third][1])

    shares = {}
    for third in set(points) - {one, two}:
        slopes = [(reading(third, h, k) - reading(third, -h, -k)) / 0.02 for h, k in ((0.01, 0), (0, 0.01))]
        variance = CLASS_II.u_of_mm(reading(third, 0, 0)) ** 2 + 1.5**2
        for slope, distance in zip(slopes, (d_one, d_two), strict=True):
            variance += slope**2 * (CLASS_II.u_of_mm(distance) ** 2 + 1.5**2)
        shares[third] = min(map(abs, slopes)) / sqrt(variance), sqrt(variance)
    assert answer.check
    assert answer.check.mark == max(shares, key=lambda name: shares[name][0])
    assert answer.check.u_mm == pytest.approx(shares[answer.check.mark][1], rel=1e-5)
    assert answer.check.distance_mm == pytest.approx(reading(answer.check.mark, 0, 0))


CAR = ((-150.0, -900.0), (2960.0, -900.0), (2960.0, 900.0), (-150.0, 900.0))


def test_a_tape_along_an_edge_or_to_a_corner_is_free_and_one_through_is_not() -> None:
    blockers = Blockers([((1000.0, 0.0), (3000.0, 0.0), (3000.0, -400.0), (1000.0, -400.0))])
    starts = np.array([[0.0, 0.0], [0.0, -1.0], [0.0, 400.0], [2000.0, -700.0], [3000.0, -400.0]])
    assert blockers.first_in_the_way(starts, (4000.0, 0.0)) == [None, 0, None, 0, None]


def test_the_bay_of_a_blocker_that_is_not_convex_is_free() -> None:
    u_shape = ((0.0, 0.0), (900.0, 0.0), (900.0, 900.0), (600.0, 900.0), (600.0, 300.0), (300.0, 300.0),
               (300.0, 900.0), (0.0, 900.0))  # fmt: skip
    starts = np.array([[450.0, 2000.0], [2000.0, 400.0]])
    assert Blockers([u_shape]).first_in_the_way(starts, (450.0, 400.0)) == [None, 0]
    assert Blockers([u_shape[::-1]]).first_in_the_way(starts, (450.0, 400.0)) == [None, 0]


def test_a_wall_of_two_points_blocks_across_and_not_at_its_end() -> None:
    wall = Blockers([((1000.0, -500.0), (1000.0, 500.0))])
    starts = np.array([[0.0, 0.0], [0.0, 1000.0], [0.0, 1002.0], [1000.0, -2000.0], [1000.0, 200.0]])
    assert wall.first_in_the_way(starts, (2000.0, 0.0)) == [0, None, None, None, None]
    assert wall.first_in_the_way(np.array([[1000.0, -2000.0]]), (1000.0, 2000.0)) == [None]


def test_a_short_tape_and_a_car_leave_marks_out_and_say_so() -> None:
    far = found(FRONT, (5200.0, 520.0), with_tape=tape("II", 1500.0))
    assert not far.feasible
    assert [reason.split(":")[0] for reason in far.reasons[:4]] == sorted(FRONT)
    assert "tape is 1,500 mm long" in far.reasons[0]
    behind = found({"a": (-1000.0, 0.0), "b": (-1000.0, 500.0)}, (5200.0, 0.0), blockers=Blockers([CAR]))
    assert "a: blocker 1 stands between it and the target." in behind.reasons
    assert "no mark" in behind.reasons[-1]


@pytest.mark.parametrize(
    ("points", "named"),
    [
        ({}, "no mark"),
        ({"only one": (0.0, 0.0)}, "only one"),
        ({"a": (0.0, 0.0), "b": (1000.0, 0.0), "c": (2000.0, 0.0)}, "a and b: the tapes meet"),
        ({"here": (0.0, 0.0), "also here": (0.0, 0.0)}, "also here and here"),
        ({"on it": (3000.0, 0.0), "b": (0.0, 0.0)}, "on it: the target is on this mark."),
    ],
)
def test_without_a_pair_the_reasons_name_the_marks(points: dict[str, Place], named: str) -> None:
    answer = found(points, (3000.0, 0.0))
    assert not answer.feasible
    assert any(named in reason for reason in answer.reasons)


@pytest.mark.parametrize(
    "outline",
    [
        ((0.0, 0.0), (0.0, 0.0)),
        ((0.0, 0.0), (100.0, 100.0), (200.0, 200.0)),
        ((0.0, 0.0), (100.0, 100.0), (100.0, 0.0), (0.0, 100.0)),
        ((0.0, 0.0), (100.0, 0.0), (0.0, 0.0)),
    ],
)
def test_a_blocker_that_encloses_nothing_or_crosses_itself_is_named(outline: tuple[Place, ...]) -> None:
    with pytest.raises(InvalidValue) as refused:
        Blockers([CAR, outline])
    assert refused.value.pointer == "/blockers/1"


def test_an_outline_that_crosses_itself_is_told_from_one_without_width() -> None:
    # The two triangles of this outline run round opposite ways, so that its area comes to nothing.
    with pytest.raises(InvalidValue, match="crosses itself"):
        Blockers([((0.0, 0.0), (100.0, 100.0), (100.0, 0.0), (0.0, 100.0))])


@pytest.mark.parametrize("direction", [(0.0, 0.0), (float("inf"), 0.0)])
def test_a_critical_direction_without_length_is_refused(direction: Place) -> None:
    with pytest.raises(InvalidValue) as refused:
        found(FRONT, (5200.0, 0.0), direction=direction)
    assert refused.value.pointer == "/critical_direction"


def test_circles_that_cannot_meet_have_no_points() -> None:
    assert two_points((0.0, 0.0), (1000.0, 0.0), 300.0, 300.0) is None
    assert two_points((0.0, 0.0), (0.0, 0.0), 300.0, 300.0) is None
    # Norrdine's example in the plane: both solutions lie at the measured distances.
    meet = two_points((27297.0, -4953.0), (25475.0, -6124.0), 3851.0, 3875.0)
    assert meet
    for point in meet:
        assert hypot(point[0] - 27297.0, point[1] + 4953.0) == pytest.approx(3851.0)
        assert hypot(point[0] - 25475.0, point[1] + 6124.0) == pytest.approx(3875.0)
    assert is_left_of(meet[0], (27297.0, -4953.0), (25475.0, -6124.0))
    assert not is_left_of(meet[1], (27297.0, -4953.0), (25475.0, -6124.0))
