"""POST /v1/setups/verify: a setup that was set out, measured, and proven or not."""

import asyncio
import re
from math import cos, degrees, radians, sin
from typing import Any

import httpx
import msgspec
import numpy as np
import pytest

from running import Service
from service.setups.job import COMPLETE, Job
from service.setups.measuring import as_set, distances, surely
from snapline import AsyncSnapline, BadRequest, Snapline
from snapline.wire.setup_floor import SetupFloor, WheelReading, WheelReadings
from snapline.wire.setup_setting_out import GivenMark
from snapline.wire.verification import (
    AxisVerification,
    MeasuredDistance,
    MeasuredHeight,
    MeasuredTilt,
    PlacementVerification,
    Verification,
    VerifyRequest,
)
from snapline_service.examples import BODIES
from snapline_service.setups.verification_axes import limits_of

BOARD = Job("quellovane-sablune-2023-eu", "camera-folding")
REFLECTOR = Job("mirandeux-celadine-2023-eu", "radar-reflector")
PAIR = Job("jorvantel-mesquin-2024-us", "corner-radars-reflectors")
MATS = Job("ostrivelle-cambresolle-2019-eu", "surround-view-mats")
SEVERAL = [
    BOARD,
    REFLECTOR,
    PAIR,
    MATS,
    Job("fennhaul-stokerran-2020-us", "camera-board"),
    Job("brennhavik-halvenn-2021-eu", "camera-board"),
    Job("ostrivelle-cambresolle-2023-eu", "mirror-cameras-boards"),
    Job("brennhavik-tolmenn-2023-eu-headlamps", "headlamps-light-box"),
]
SIGNED = re.compile(r"[-−+]\s?\d")


def axis(placement: PlacementVerification, name: str) -> AxisVerification:
    return next(one for one in placement.axes if one.axis == name)


@pytest.mark.parametrize("job", SEVERAL, ids=str)
def test_a_setting_out_that_is_followed_exactly_verifies_as_conforming(client: Snapline, job: Job) -> None:
    found = client.setups.verify(as_set(client, surely(job)))
    assert found.outcome == "conforms", [
        (one.id, a.axis, a.verdict, a.u, a.tolerance, a.reason) for one in found.placements for a in one.axes
    ]
    assert found.uncertainty_not_stated == ()
    assert found.chi2
    assert found.chi2.passed
    for one in found.placements:
        assert one.advice == ("Leave the feet where they stand.",)
        assert all(a.error == pytest.approx(0, abs=0.2) for a in one.axes)
        assert one.joint_probability
        assert one.joint_probability > 0.9


@pytest.mark.parametrize("job", COMPLETE, ids=str)
def test_every_static_procedure_of_every_demo_vehicle_can_be_verified(client: Snapline, job: Job) -> None:
    setup = client.setups.compute(surely(job))
    # A weight on a seat stands inside the car, where no tape reaches from outside.
    assert bool(distances(setup)) == (job.procedure_id != "seat-weight-check")
    found = client.setups.verify(as_set(client, surely(job)))
    assert found.outcome in ("conforms", "not_proven")
    assert [one.id for one in found.placements] == list(job.placements)
    assert found.sources == setup.sources
    assert (found.cautions, found.catalogue_revision) == (setup.cautions, setup.catalogue_revision)


def test_errors_come_back_in_the_axes_of_the_placement(client: Snapline) -> None:
    # A reflector on the axis of a corner radar: along and across are neither the car's x nor its y.
    off = {"reflector-left": (14.0, -6.0, 0.8)}
    found = client.setups.verify(as_set(client, surely(PAIR), off))
    left, right = found.placements
    assert axis(left, "along").error == pytest.approx(14.0, abs=0.1)
    assert axis(left, "lateral").error == pytest.approx(-6.0, abs=0.1)
    assert axis(left, "yaw").error == pytest.approx(0.8, abs=0.02)
    assert (left.outcome, right.outcome, found.outcome) == (
        "does_not_conform",
        "conforms",
        "does_not_conform",
    )
    pose = next(
        item.in_vehicle
        for stage in client.setups.compute(surely(PAIR)).stages
        for item in stage.placements
        if item.id == "reflector-left"
    )
    assert left.pose
    aim = PAIR.vehicle.sensors["front_left_radar"].yaw_deg
    x = cos(radians(aim)) * 14 + sin(radians(aim)) * 6
    y = sin(radians(aim)) * 14 - cos(radians(aim)) * 6
    assert (left.pose.x_mm - pose.x_mm, left.pose.y_mm - pose.y_mm) == pytest.approx((x, y), abs=0.1)


def test_a_move_is_advised_by_the_names_of_the_feet(client: Snapline) -> None:
    found = client.setups.verify(as_set(client, surely(BOARD), {"board": (0.0, 0.0, 0.6)}))
    (board,) = found.placements
    assert any(sentence.startswith("Move front left: ") for sentence in board.advice)
    straight = client.setups.verify(as_set(client, surely(BOARD), {"board": (9.0, 0.0, 0.0)}))
    # The aim line points forward, so nine millimetres too far along it are nine to move back.
    assert straight.placements[0].advice[0] == "Move the whole fixture: 9 mm back."


def test_two_fixtures_are_adjusted_together_and_a_slip_is_found_in_its_own(client: Snapline) -> None:
    request = as_set(client, surely(PAIR))
    good = client.setups.verify(request)
    assert good.chi2
    assert good.chi2.dof == len(request.distances) - 6
    row = next(i for i, one in enumerate(request.distances) if one.placement == "reflector-right")
    slip = list(request.distances)
    slip[row] = msgspec.structs.replace(slip[row], distance_mm=slip[row].distance_mm + 40)
    found = client.setups.verify(msgspec.structs.replace(request, distances=tuple(slip)))
    assert found.outcome == "measurements_disagree"
    assert {one.outcome for one in found.placements} == {"measurements_disagree"}
    assert [i for i, one in enumerate(found.observations) if one.suspect] == [row]
    named = (
        f"Measure {slip[row].mark} to {slip[row].point} of reflector right again: it does not fit the others."
    )
    assert named in found.advice
    assert all(one.advice == () for one in found.placements)


@pytest.mark.parametrize("row", range(6))
@pytest.mark.parametrize("slip_mm", [1000.0, 300.0, -300.0, 40.0])
def test_a_tape_that_is_far_off_is_named_and_no_good_one(client: Snapline, row: int, slip_mm: float) -> None:
    """Six tapes to three points: a metre too much bends the place so far that the slopes there mislead."""
    request = BODIES["verify_setup"]
    assert isinstance(request, VerifyRequest)
    wrong = list(request.distances)
    wrong[row] = msgspec.structs.replace(wrong[row], distance_mm=wrong[row].distance_mm + slip_mm)
    name = f"{wrong[row].mark} to {wrong[row].point}"
    found = verified(client, msgspec.structs.replace(request, distances=tuple(wrong)))
    if isinstance(found, BadRequest):  # no place comes near to all of them
        assert found.errors[0].pointer == f"/distances/{row}/distance_mm"
        assert name in found.errors[0].mend
    else:
        assert found.outcome == "measurements_disagree"
        assert [i for i, one in enumerate(found.observations) if one.suspect] == [row]
        assert any(name in sentence for sentence in found.advice)


def verified(client: Snapline, request: VerifyRequest) -> Verification | BadRequest:
    try:
        return client.setups.verify(request)
    except BadRequest as error:
        return error


def test_a_mark_that_is_off_moves_both_fixtures_and_its_uncertainty_is_shared(client: Snapline) -> None:
    # The same distances with marks as sure as a person says: what a mark adds, no further tape takes away.
    request = as_set(client, surely(PAIR))
    twice = msgspec.structs.replace(request, distances=request.distances * 4)
    once, often = client.setups.verify(request), client.setups.verify(twice)
    for one, four in zip(once.placements, often.placements, strict=True):
        marks = next(part.share for part in axis(one, "lateral").budget if part.input == "marks")
        assert one.u
        assert four.u
        assert four.u.y_mm < one.u.y_mm
        assert four.u.y_mm**2 > 0.9 * marks * one.u.y_mm**2


def test_what_moves_mark_and_fixture_alike_moves_no_error(client: Snapline) -> None:
    # Ahead of the front bumper by so much. Measured from the bumper, overhang and wheelbase may be anything;
    # measured from marks in the vehicle's own axes, where the fixture should be is no surer than the bumper.
    job = Job("fennhaul-stokerran-2020-us", "camera-board")
    far = {"vehicle.front_overhang_mm": 20.0, "vehicle.wheelbase_mm": 20.0}
    vague = surely(job, auxiliary_marks=False)
    vague = msgspec.structs.replace(vague, standard_uncertainty=vague.standard_uncertainty | far)
    by_car = client.setups.verify(as_set(client, vague))
    assert axis(by_car.placements[0], "along").u == pytest.approx(0, abs=1.5)

    places = {"left of it": (7700.0, 2500.0), "right of it": (7700.0, -2500.0)}
    marks = {name: GivenMark(x_mm=x, y_mm=y, u_mm=0.3) for name, (x, y) in places.items()}
    points = client.setups.compute(vague).stages[0].placements[0].setting_out
    assert points
    measured = tuple(
        MeasuredDistance(
            placement="board",
            point=point.name,
            mark=name,
            distance_mm=float(np.hypot(point.x_mm - x, point.y_mm - y)),
        )
        for point in points.points
        for name, (x, y) in places.items()
    )
    by_axes = client.setups.verify(
        as_set(client, msgspec.structs.replace(vague, marks=marks), distances=measured)
    )
    along = axis(by_axes.placements[0], "along")
    assert along.u == pytest.approx(20 * np.sqrt(2), rel=0.01)
    assert along.budget[0].input == "vehicle"
    assert along.budget[0].share > 0.99


def test_an_axis_that_nobody_measured_is_not_proven(client: Snapline) -> None:
    request = as_set(client, surely(BOARD), tilts={}, heights={})
    found = client.setups.verify(request)
    (board,) = found.placements
    assert [(a.axis, a.verdict, a.reason) for a in board.axes if a.axis in ("height", "pitch", "roll")] == [
        (name, "not_proven", "Not measured.") for name in ("height", "pitch", "roll")
    ]
    assert found.outcome == "not_proven"
    assert "Still to be measured at board: height, pitch, roll." in found.advice


def test_nothing_measured_proves_nothing(client: Snapline) -> None:
    found = client.setups.verify(**msgspec.structs.asdict(surely(BOARD)))
    assert (found.outcome, found.chi2, found.observations) == ("not_proven", None, ())
    (board,) = found.placements
    assert (board.pose, board.u, board.covariance, board.aim, board.joint_probability) == (None,) * 5
    assert {a.reason for a in board.axes} == {"Not measured."}


def test_an_axis_without_a_tolerance_has_no_verdict_and_says_why(client: Snapline) -> None:
    job = Job("brennhavik-halvenn-2017-eu", "rear-view-mat")
    found = client.setups.verify(as_set(client, surely(job)))
    yaw = axis(found.placements[0], "yaw")
    assert (yaw.verdict, yaw.probability, yaw.reason) == (None, None, "No tolerance is stated.")


def test_where_the_source_is_silent_the_sensors_allowance_limits(client: Snapline) -> None:
    item = client.setups.compute(surely(REFLECTOR)).stages[0].placements[0]
    assert item.tolerance
    assert item.aim_tolerance
    assert limits_of(item)["lateral"].by == "source"
    silent = msgspec.structs.replace(item, tolerance=None)
    found = limits_of(silent)
    assert set(found) == {"lateral"}
    assert (found["lateral"].size, found["lateral"].by) == (item.aim_tolerance.lateral_mm, "aim_allowance")
    assert limits_of(msgspec.structs.replace(silent, aim_tolerance=None)) == {}


def test_a_figure_of_no_stated_uncertainty_leaves_an_axis_unproven(client: Snapline) -> None:
    # 'Level with the radar': how high it sits is in no one's list of uncertainties.
    job = Job("quellovane-lirra-2020-eu-radar", "radar-reflector")
    sure = surely(job)
    del sure.standard_uncertainty["vehicle.front_overhang_mm"]
    found = client.setups.verify(as_set(client, sure))
    assert found.outcome == "conforms"  # the catalogue states that one itself
    board = surely(Job("brennhavik-halvenn-2021-eu", "camera-board"))
    del board.standard_uncertainty["vehicle.front_overhang_mm"]
    found = client.setups.verify(as_set(client, board))
    assert found.uncertainty_not_stated == ("vehicle.front_overhang_mm",)
    along = axis(found.placements[0], "along")
    assert (along.verdict, found.outcome) == ("not_proven", "not_proven")
    assert along.reason == "It rests on figures of no stated uncertainty: front overhang."
    assert any("front overhang" in sentence for sentence in found.advice)


def test_a_setup_that_stops_work_is_never_proven(client: Snapline) -> None:
    sure = surely(REFLECTOR, measured={"vehicle.thrust_yaw_deg": 1.5})
    found = client.setups.verify(as_set(client, sure))
    assert found.stops_work
    assert {one.outcome for one in found.placements} == {"conforms"}
    assert found.outcome == "not_proven"


def test_budgets_add_up_and_a_coarser_tape_takes_a_larger_share(client: Snapline) -> None:
    request = as_set(client, surely(BOARD))
    fine = client.setups.verify(request)
    coarse_distances = tuple(msgspec.structs.replace(one, u_mm=3.0) for one in request.distances)
    coarse = client.setups.verify(msgspec.structs.replace(request, distances=coarse_distances))
    shares = []
    for found in (fine, coarse):
        for one in found.placements[0].axes:
            assert sum(part.share for part in one.budget) == pytest.approx(1)
        along = {part.input: part.share for part in axis(found.placements[0], "along").budget}
        assert set(along) == {"tape", "marks", "vehicle"}
        shares.append(along["tape"])
    assert shares[0] < shares[1]
    assert {one.u_mm for one in coarse.observations} == {3.0}
    assert {one.u_mm for one in fine.observations} != {3.0}


def test_aim_and_miss_are_those_seen_from_the_sensor(client: Snapline) -> None:
    request = as_set(client, surely(REFLECTOR), {"reflector": (0.0, 10.0, 0.0)}, range_mm=50_000.0)
    (one,) = client.setups.verify(request).placements
    sensor = REFLECTOR.vehicle.sensors["front_radar"]
    setup = client.setups.compute(surely(REFLECTOR))
    ahead_mm = setup.stages[0].placements[0].in_vehicle.x_mm - sensor.x_mm
    assert one.aim
    assert one.aim.sensor == "front_radar"
    assert one.aim.yaw_error_deg == pytest.approx(degrees(np.arctan2(10, ahead_mm)), abs=0.002)
    assert one.aim.lateral_miss_mm == pytest.approx(50_000 * 10 / ahead_mm, abs=2)
    assert one.u
    assert one.aim.u_yaw_error_deg == pytest.approx(degrees(one.u.y_mm / ahead_mm), rel=0.01)


def test_a_height_is_counted_from_the_floor_at_the_feet(client: Snapline) -> None:
    level = WheelReading(z_mm=0.0)
    wheels = WheelReadings(front_left=level, front_right=level, rear_left=level, rear_right=level)
    names = ("front left", "front right", "rear")
    floor = SetupFloor(u_z_mm=0.3, wheels=wheels, feet={"board": dict.fromkeys(names, -8.0)})
    sure = surely(BOARD, floor=floor)
    (item,) = client.setups.compute(sure).stages[0].placements
    # The fixture stands in a hollow of 8 mm: its height above the floor there is that much more.
    heights = {"board": MeasuredHeight(height_mm=item.in_vehicle.z_mm + 8.0, u_mm=0.4)}
    (board,) = client.setups.verify(as_set(client, sure, heights=heights)).placements
    height = axis(board, "height")
    assert height.error == pytest.approx(0, abs=1e-6)
    assert {part.input for part in height.budget} == {"reading", "floor"}
    assert height.u
    assert height.u > 0.4


def test_tilts_may_be_read_as_a_slope(client: Snapline) -> None:
    # 5 mm in a metre is 0.2865 degrees; the source allows 0.5 of pitch and 0.3 of roll.
    tilt = MeasuredTilt(pitch_mm_per_m=5.0, roll_deg=-0.6, u_deg=0.03)
    (board,) = client.setups.verify(as_set(client, surely(BOARD), tilts={"board": tilt})).placements
    assert axis(board, "pitch").error == pytest.approx(0.2864765, abs=1e-5)
    assert axis(board, "pitch").verdict == "conforms"
    assert axis(board, "roll").verdict == "does_not_conform"
    assert "Raise the side on the fixture's own left: 0.60°." in board.advice


def test_one_point_below_the_reference_tells_the_place_and_no_direction(client: Snapline) -> None:
    request = as_set(client, surely(REFLECTOR))
    single = tuple(one for one in request.distances if one.point.startswith("below"))
    found = client.setups.verify(msgspec.structs.replace(request, distances=single))
    (one,) = found.placements
    assert (axis(one, "yaw").error, axis(one, "yaw").reason) == (None, "Not measured.")
    assert axis(one, "along").verdict == "conforms"
    assert one.u
    assert (one.u.yaw_deg, one.covariance) == (None, None)
    assert any("direction of reflector is taken as right" in text for text in found.assumed)


def test_one_stage_can_be_verified_by_itself(client: Snapline) -> None:
    job = Job("brennhavik-skarra-2024-eu", "night-vision-grid")
    request = as_set(client, surely(job))
    near = tuple(one for one in request.distances if one.placement == "grid-near")
    only: dict[str, Any] = {"stage": "near", "distances": near}
    only |= {field: {"grid-near": getattr(request, field)["grid-near"]} for field in ("heights", "tilts")}
    found = client.setups.verify(msgspec.structs.replace(request, **only))
    assert [one.id for one in found.placements] == ["grid-near"]


REFUSED: list[tuple[dict[str, Any], str]] = [
    ({"placement": "bord"}, "/distances/0/placement"),
    ({"point": "front lef"}, "/distances/0/point"),
    ({"mark": "front left wheal"}, "/distances/0/mark"),
    ({"heights": {"bord": MeasuredHeight(height_mm=1, u_mm=1)}}, "/heights/bord"),
    ({"tilts": {"bord": MeasuredTilt(u_deg=1)}}, "/tilts/bord"),
    (
        {"tilts": {"board": MeasuredTilt(pitch_deg=0.1, pitch_mm_per_m=1, u_deg=1)}},
        "/tilts/board/pitch_mm_per_m",
    ),
    ({"stage": "nowhere"}, "/stage"),
    ({"procedure_id": "nothing"}, "/procedure_id"),
]


@pytest.mark.parametrize(("change", "pointer"), REFUSED, ids=[pointer for _, pointer in REFUSED])
def test_what_the_setup_does_not_have_is_refused_by_name(
    client: Snapline, change: dict[str, Any], pointer: str
) -> None:
    request = as_set(client, surely(BOARD))
    if pointer.startswith("/distances"):
        first, *others = request.distances
        change = {"distances": (msgspec.structs.replace(first, **change), *others)}
    with pytest.raises(BadRequest) as refusal:
        client.setups.verify(msgspec.structs.replace(request, **change))
    assert [error.pointer for error in refusal.value.errors] == [pointer]


def test_too_few_distances_are_refused_with_what_to_measure(client: Snapline) -> None:
    request = as_set(client, surely(BOARD))
    one_foot = tuple(one for one in request.distances if one.point == "front left")
    for kept, advice in ((one_foot, "second point"), (request.distances[:1], "second point")):
        with pytest.raises(BadRequest) as refusal:
            client.setups.verify(msgspec.structs.replace(request, distances=kept))
        assert refusal.value.errors[0].pointer == "/distances"
        assert advice in refusal.value.errors[0].detail


def test_no_sentence_has_a_signed_number(client: Snapline) -> None:
    for job in SEVERAL:
        off = dict.fromkeys(job.placements, (-11.0, 7.0, -0.7))
        found = client.setups.verify(as_set(client, surely(job), off))
        sentences = [*found.advice, *(text for one in found.placements for text in one.advice)]
        assert sentences
        assert not any(SIGNED.search(text) for text in sentences)


def test_stated_uncertainties_are_those_that_simulated_cars_and_tapes_show(client: Snapline) -> None:
    # Each car differs from the catalogue by the stated uncertainties, marks are plumbed with the stated one,
    # and the tape errs as stated; the fixture stands exactly right on the car that is there.
    rng = np.random.default_rng(1)
    job = Job("fennhaul-stokerran-2020-us", "camera-board")
    stated = {
        "vehicle.wheelbase_mm": 3.0,
        "vehicle.front_track_mm": 2.0,
        "vehicle.rear_track_mm": 2.0,
        "vehicle.front_overhang_mm": 4.0,
        "vehicle.tyre_width_mm": 2.0,
        "vehicle.rear_overhang_mm": 2.0,
    }
    sizes = msgspec.structs.asdict(job.vehicle.dimensions)
    request = surely(job, standard_uncertainty=stated, u_marking_mm=0.8, auxiliary_marks=False)
    wanted = as_set(client, request)
    errors = []
    for _ in range(120):
        car = {name: sizes[name.removeprefix("vehicle.")] + u * rng.normal() for name, u in stated.items()}
        real = client.setups.compute(msgspec.structs.replace(request, measured=car))
        marks = {
            mark.name: (mark.x_mm + 0.8 * rng.normal(), mark.y_mm + 0.8 * rng.normal())
            for mark in real.stages[0].marks
        }
        setting_out = real.stages[0].placements[0].setting_out
        assert setting_out
        points = {point.name: (point.x_mm, point.y_mm) for point in setting_out.points}
        measured = []
        for one in wanted.distances:
            way = np.subtract(points[one.point], marks[one.mark])
            shown = float(np.hypot(*way) + 0.6 * rng.normal())
            measured.append(msgspec.structs.replace(one, distance_mm=shown, u_mm=0.6))
        found = client.setups.verify(msgspec.structs.replace(wanted, distances=tuple(measured)))
        errors.append([axis(found.placements[0], name).error or 0.0 for name in ("along", "lateral", "yaw")])
    u = [axis(found.placements[0], name).u or 0.0 for name in ("along", "lateral", "yaw")]
    # The standard deviation of 120 cases is itself known to 6.5 %; three of that.
    assert np.std(errors, axis=0) == pytest.approx(u, rel=0.2)
    assert np.abs(np.mean(errors, axis=0) / u).max() < 3 / np.sqrt(120)


def test_the_sdk_asks_the_same_both_ways(demo_service: tuple[Service, str]) -> None:
    service, key = demo_service
    request: VerifyRequest = BODIES["verify_setup"]
    with Snapline(service.url, key) as client:
        whole = client.setups.verify(request)
        fields = client.setups.verify(**msgspec.structs.asdict(request))

    async def ask() -> object:
        async with AsyncSnapline(service.url, key) as client:
            return await client.setups.verify(request)

    assert asyncio.run(ask()) == whole == fields


def test_over_http_an_unknown_field_and_a_negative_size_are_refused(http: httpx.Client) -> None:
    body = msgspec.to_builtins(BODIES["verify_setup"])
    for change, pointer in (
        ({"colour": "red"}, "/colour"),
        ({"range_mm": -1}, "/range_mm"),
        ({"heights": {"reflector": {"height_mm": 1, "u_mm": -1}}}, "/heights/reflector/u_mm"),
    ):
        answer = http.post("/v1/setups/verify", json=body | change)
        assert answer.status_code == 422
        assert [error["pointer"] for error in answer.json()["errors"]] == [pointer]
    answer = http.post("/v1/setups/verify", json=body)
    assert answer.headers["catalogue-revision"] == str(answer.json()["catalogue_revision"])


def test_marks_that_were_set_out_first_carry_the_error_of_those_they_came_from(client: Snapline) -> None:
    job = Job("mirandeux-celadine-2023-eu", "radar-reflector")
    sure = surely(job, two_stages=True, auxiliary_marks=False)
    setup = client.setups.compute(sure)
    made = {mark.name for stage in setup.stages for mark in stage.marks if mark.kind == "set_out"}
    request = as_set(client, sure)
    assert made & {one.mark for one in request.distances}
    found = client.setups.verify(request)
    assert found.chi2
    assert found.chi2.passed
    sharp = client.setups.verify(
        msgspec.structs.replace(
            request, distances=tuple(msgspec.structs.replace(one, u_mm=0.01) for one in request.distances)
        )
    )
    # However fine the last tape, what the first stage left remains.
    for one, fine in zip(found.placements, sharp.placements, strict=True):
        assert one.u
        assert fine.u
        assert 0.1 < fine.u.y_mm <= one.u.y_mm
