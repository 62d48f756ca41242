"""Measurements from which no pose follows: which one is at fault, and what to measure instead."""

from dataclasses import replace

import numpy as np
import pytest

from geometry.as_set_scenes import AT_HEIGHT, TOLERANCE, Scene, front_board
from snapline_service.errors import InvalidValue, SnaplineError, UnknownName
from snapline_service.geometry import Position
from snapline_service.geometry.as_set import check_as_set
from snapline_service.geometry.as_set_values import Aim, AsSet, Body, Distance, FloorPose
from snapline_service.geometry.marks import independent


def check(scene: Scene, distances: list[Distance], aim: Aim | None = None) -> AsSet:
    return check_as_set(scene.marks, scene.body, distances, height=AT_HEIGHT, tolerances=TOLERANCE, aim=aim)


def refusal(scene: Scene, distances: list[Distance] | None = None, aim: Aim | None = None) -> SnaplineError:
    if distances is None:
        distances = scene.distances(scene.lengths(scene.body.nominal))
    with pytest.raises((InvalidValue, UnknownName)) as refused:
        check(scene, distances, aim)
    assert refused.value.mend
    return refused.value


BOARD = front_board()
GOOD = BOARD.distances(BOARD.lengths(BOARD.body.nominal))


def test_a_mark_that_was_not_given() -> None:
    found = refusal(BOARD, [*GOOD[:2], replace(GOOD[2], mark="CLL"), *GOOD[3:]])
    assert found.pointer == "/observations/2/mark"
    assert "'CL'" in found.mend


@pytest.mark.parametrize("foot", [-1, 4])
def test_a_foot_that_is_not_there(foot: int) -> None:
    found = refusal(BOARD, [*GOOD[:2], replace(GOOD[2], foot=foot)])
    assert found.pointer == "/observations/2/foot"
    assert "0 to 3" in found.mend


def test_fewer_than_three_distances() -> None:
    assert refusal(BOARD, GOOD[:2]).pointer == "/observations"


def test_one_foot_has_no_direction() -> None:
    single = replace(BOARD, body=replace(BOARD.body, feet=BOARD.body.feet[:1]))
    found = refusal(single, [one for one in GOOD if one.foot == 0])
    assert found.pointer == "/feet"
    assert "yaw" in found.detail


def test_distances_to_one_foot_only_name_the_foot_that_is_missing() -> None:
    found = refusal(BOARD, [one for one in GOOD if one.foot == 0])
    assert found.pointer == "/observations"
    assert "foot 1" in found.mend


@pytest.mark.parametrize("apart_mm", [0.0, 1e-7, 0.5])
def test_feet_closer_together_than_the_tape_can_tell(apart_mm: float) -> None:
    close = replace(BOARD, body=replace(BOARD.body, feet=((0.0, 0.0), (0.0, apart_mm))))
    found = refusal(close)
    assert found.pointer in ("/feet", "/observations")
    assert "yaw" in found.detail or "turn" in found.detail


def test_one_mark_alone_lets_the_fixture_circle() -> None:
    found = refusal(replace(BOARD, pairs=(("FL", 0), ("FL", 1), ("FL", 2), ("FL", 3))))
    assert "circle about" in found.detail
    assert found.pointer == "/observations"


def test_marks_and_feet_on_one_line_leave_the_fixture_free() -> None:
    marks = {"A": (0.0, 0.0), "B": (1000.0, 0.0), "C": (2000.0, 0.0)}
    body = Body(((0.0, 0.0), (800.0, 0.0)), FloorPose(4000.0, 0.0, 0.0))
    pairs = (("A", 0), ("B", 1), ("C", 0), ("C", 1))
    found = refusal(Scene(independent(marks, dict.fromkeys(marks, 1.0)), body, pairs))
    assert found.pointer == "/observations"
    assert "to the side" in found.mend


@pytest.mark.parametrize(
    ("lengths", "row"),
    [((900.0, 900.0, 2000.0), 1), ((3000.0, 500.0, 2000.0), 1), ((2500.0, 2500.0, 9000.0), 2)],
)
def test_three_distances_whose_triangle_cannot_close(lengths: tuple[float, ...], row: int) -> None:
    # Marks 2 m apart: 0.9 m and 0.9 m do not reach each other; 3 m and 0.5 m miss; 9 m is from nowhere near.
    marks = {"A": (0.0, 1000.0), "B": (0.0, -1000.0), "C": (1500.0, 2500.0)}
    body = Body(((0.0, 0.0), (0.0, 600.0)), FloorPose(2000.0, 0.0, 0.0))
    scene = Scene(independent(marks, dict.fromkeys(marks, 1.0)), body, (("A", 0), ("B", 0), ("C", 1)))
    found = refusal(scene, scene.distances(np.array(lengths)))
    assert found.pointer == f"/observations/{row}/distance_mm"
    assert "miss by" in found.detail


def test_a_triangle_that_cannot_close_among_more_distances_is_a_result_that_names_it() -> None:
    found = check(BOARD, [replace(GOOD[0], distance_mm=9000.0), *GOOD[1:]])
    assert found.outcome == "measurements_disagree"
    assert [one.suspect for one in found.observations] == [True] + [False] * 9


def test_a_distance_without_uncertainty_that_repeats_another() -> None:
    exact = [replace(one, u_mm=0.0) for one in (GOOD[0], GOOD[0], *GOOD[1:4])]
    found = refusal(BOARD, exact)
    assert found.pointer == "/observations/0/u_mm"


def test_exact_marks_are_fine_and_an_exact_tape_with_unsure_marks_too() -> None:
    sure = replace(
        BOARD,
        marks=independent(
            {n: BOARD.marks.point(n) for n in BOARD.marks.names}, dict.fromkeys(BOARD.marks.names, 0.0)
        ),
    )
    assert check(sure, GOOD).outcome == "conforms"
    exact_tape = [replace(one, u_mm=0.0) for one in GOOD]
    assert check(BOARD, exact_tape).chi2.passed


def test_a_fixture_above_its_sensor_has_no_bearing() -> None:
    above = Position(BOARD.body.nominal.x_mm, BOARD.body.nominal.y_mm, 300.0)
    assert refusal(BOARD, GOOD, Aim(above, 1e5)).pointer == "/sensor"


def test_a_foot_that_stands_on_its_mark_is_no_failure() -> None:
    foot = BOARD.body.feet_at(BOARD.body.nominal)[0]
    points = {name: BOARD.marks.point(name) for name in BOARD.marks.names} | {"under": foot}
    on = replace(
        BOARD, marks=independent(points, dict.fromkeys(points, 1.0)), pairs=(*BOARD.pairs, ("under", 0))
    )
    found = check(on, on.distances(on.lengths(on.body.nominal)))
    assert found.outcome == "conforms"
