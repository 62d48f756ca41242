"""Tapes to every foot of every fixture: a person who follows them ends where the fixture belongs."""

import re
from collections.abc import Iterator
from math import cos, hypot, radians, sin
from typing import Any

import msgspec
import pytest
import shapely

from service.setups.job import COMPLETE, Job
from snapline import Snapline
from snapline.errors import BadRequest
from snapline.wire.setting_out import Tape
from snapline.wire.setup_setting_out import (
    CheckTape,
    FixtureSettingOut,
    GivenMark,
    PointSettingOut,
    SetupMark,
    TapeDistance,
)
from snapline.wire.setups import PlacedFixture, Setup, SetupRequest, SetupStage
from snapline_service.setups.inputs import gather
from snapline_service.setups.setting_out import left_out

Point = tuple[float, float]
LIRRA = Job("quellovane-lirra-2020-eu", "camera-board")
SAGEBROOK = Job("jorvantel-sagebrook-2022-us", "camera-board")
SKARRA = Job("brennhavik-skarra-2022-eu", "rear-radars-reflectors")
CELADINE = Job("mirandeux-celadine-2023-eu", "radar-reflector")
# On a seat, and inside the car where no tape comes.
NOT_ON_THE_FLOOR = {"weight"}
DIMENSIONS = (
    "wheelbase_mm",
    "front_track_mm",
    "rear_track_mm",
    "front_overhang_mm",
    "rear_overhang_mm",
    "tyre_width_mm",
)


def set_up(client: Snapline, job: Job, **more: Any) -> Setup:
    return client.setups.compute(
        SetupRequest(vehicle_id=job.vehicle_id, procedure_id=job.procedure_id, **more)
    )


def fixtures(setup: Setup) -> Iterator[tuple[SetupStage, PlacedFixture, FixtureSettingOut]]:
    for stage in setup.stages:
        for item in stage.placements:
            if item.setting_out is not None:
                yield stage, item, item.setting_out


def points(setup: Setup) -> Iterator[tuple[dict[str, SetupMark], PointSettingOut]]:
    for stage, _, answer in fixtures(setup):
        for point in answer.points:
            yield {mark.name: mark for mark in stage.marks}, point


def the_only(setup: Setup) -> FixtureSettingOut:
    ((_, _, answer),) = fixtures(setup)
    return answer


def measured_well(job: Job, u_mm: float = 0.5) -> dict[str, float]:
    """Return what somebody states who measured the whole car."""
    stated = {f"vehicle.{name}": u_mm for name in DIMENSIONS} | {"vehicle.thrust_yaw_deg": 0.01}
    for sensor in job.vehicle.sensors:
        stated |= {f"vehicle.sensors.{sensor}.{axis}_mm": 0.3 for axis in "xyz"}
        stated[f"vehicle.sensors.{sensor}.yaw_deg"] = 0.02
    return stated


def meeting(one: SetupMark, two: SetupMark, d_one: float, d_two: float, side: str) -> Point:
    """Swing two tapes and take the crossing on the side that the words say."""
    base = hypot(two.x_mm - one.x_mm, two.y_mm - one.y_mm)
    x, y = (two.x_mm - one.x_mm) / base, (two.y_mm - one.y_mm) / base
    along = (d_one**2 - d_two**2 + base**2) / (2 * base)
    across = (d_one**2 - along**2) ** 0.5 * (1 if side.startswith("left of") else -1)
    return one.x_mm + along * x - across * y, one.y_mm + along * y + across * x


def test_every_point_of_every_fixture_on_the_floor_is_set_out_and_checked(setups: dict[Job, Setup]) -> None:
    for job, setup in setups.items():
        for stage in setup.stages:
            for item in stage.placements:
                kind = item.fixture.fixture_kind if item.fixture else ""
                assert (item.setting_out is None) == (kind in NOT_ON_THE_FLOOR), job
                if item.setting_out is None:
                    continue
                names = [point.name for point in item.setting_out.points]
                assert {foot.name for foot in item.feet} <= set(names), job
                for point in item.setting_out.points:
                    assert len(point.distances) == 2, (job, item.id, point.reasons)
                    assert point.check is not None, (job, item.id)
                    assert point.reasons == ()


def test_feet_are_set_out_where_they_are(setups: dict[Job, Setup]) -> None:
    for setup in setups.values():
        for _, item, answer in fixtures(setup):
            at = {point.name: (point.x_mm, point.y_mm) for point in answer.points}
            for foot in item.feet:
                assert at[foot.name] == pytest.approx((foot.x_mm, foot.y_mm), abs=1e-9)


def test_two_tapes_on_the_side_that_is_said_lead_to_the_point(setups: dict[Job, Setup]) -> None:
    for job, setup in setups.items():
        for marks, point in points(setup):
            (one, two), side = point.distances, point.side
            assert side
            assert side.endswith(f"seen from {one.mark}")
            assert f"the line from {one.mark} to {two.mark}" in side
            met = meeting(marks[one.mark], marks[two.mark], one.distance_mm, two.distance_mm, side)
            assert met == pytest.approx((point.x_mm, point.y_mm), abs=1e-6), job
            # The third tape reads what is printed for it.
            assert point.check
            third = marks[point.check.mark]
            assert point.check.mark not in (one.mark, two.mark)
            read = hypot(met[0] - third.x_mm, met[1] - third.y_mm)
            assert read == pytest.approx(point.check.distance_mm, abs=1e-6)


def test_distances_off_by_their_tolerance_keep_the_point_within_its_own(setups: dict[Job, Setup]) -> None:
    for setup in setups.values():
        for _, item, answer in fixtures(setup):
            for marks, point in points_of(setup, answer):
                one, two = point.distances
                if one.tolerance_mm is None:
                    continue
                assert one.tolerance_mm == two.tolerance_mm
                for a in (-one.tolerance_mm, one.tolerance_mm):
                    for b in (-one.tolerance_mm, one.tolerance_mm):
                        met = meeting(
                            marks[one.mark],
                            marks[two.mark],
                            one.distance_mm + a,
                            two.distance_mm + b,
                            point.side or "",
                        )
                        off = met[0] - point.x_mm, met[1] - point.y_mm
                        sides = (point.tolerance_critical_mm, point.tolerance_other_mm)
                        allowed = hypot(*(side for side in sides if side is not None))
                        assert hypot(*off) <= allowed * 1.01, item.id


def points_of(
    setup: Setup, answer: FixtureSettingOut
) -> Iterator[tuple[dict[str, SetupMark], PointSettingOut]]:
    for marks, point in points(setup):
        if point in answer.points:
            yield marks, point


@pytest.mark.parametrize(("units", "step_mm"), [("mm", 1.0), ("in", 25.4 / 16)])
def test_printed_figures_are_whole_steps_and_carry_no_sign(
    client: Snapline, units: str, step_mm: float
) -> None:
    for job in COMPLETE:
        setup = set_up(client, job, units=units)
        texts = [mark.how for stage in setup.stages for mark in stage.marks]
        for _, point in points(setup):
            tapes: list[TapeDistance | CheckTape] = [*point.distances]
            tapes += [point.check] if point.check else []
            for tape in tapes:
                assert abs(tape.printed_mm - tape.distance_mm) <= step_mm / 2 + 1e-9
                assert tape.printed_mm / step_mm == pytest.approx(round(tape.printed_mm / step_mm))
                assert tape.text.endswith(f" {units}")
                assert read_length(tape.text) == pytest.approx(tape.printed_mm, abs=1e-6)
                texts.append(tape.text)
            texts += [point.side or ""] + ([point.from_line.words] if point.from_line else [])
        for _, _, answer in fixtures(setup):
            texts += [answer.words, *answer.what_would_do]
            texts += [answer.diagonals.words] if answer.diagonals else []
        assert not [text for text in texts if re.search(r"[-−+]\s*\d", text)], job


def read_length(text: str) -> float:
    """Read '1,909 mm' or '75 3/16 in' back."""
    figure, _, unit = text.rpartition(" ")
    if unit == "mm":
        return float(figure.replace(",", ""))
    whole, _, part = figure.rpartition(" ") if "/" in figure else (figure, "", "0/1")
    above, _, below = part.partition("/")
    return 25.4 * (float(whole.replace(",", "") or 0) + float(above) / float(below))


def test_inches_are_a_little_less_sure(client: Snapline) -> None:
    metric, inches = (the_only(set_up(client, LIRRA, units=units)) for units in ("mm", "in"))
    for one, other in zip(metric.points, inches.points, strict=True):
        for tape, rounded in zip(one.distances, other.distances, strict=True):
            # Rectangular: half a step over the root of three, 0.289 mm and 0.458 mm.
            assert rounded.u_mm**2 - tape.u_mm**2 == pytest.approx(1.5875**2 / 12 - 1 / 12)


def test_words_of_the_drawn_line_lead_to_the_point(setups: dict[Job, Setup]) -> None:
    seen = set()
    for job, setup in setups.items():
        for _, item, answer in fixtures(setup):
            for point in answer.points:
                line = point.from_line
                is_drawn = item.placement.aim_line in ("centreline", "thrust_line")
                assert (line is not None) == is_drawn, job
                if line is None:
                    continue
                found = re.fullmatch(
                    r"([\d,]+) mm (ahead of|behind) (the (?:front|rear) bumper|mark [CT][ab]), "
                    r"(?:on|([\d,]+) mm (left|right) of) the (centreline|thrust line)",
                    line.words,
                )
                assert found, line.words
                vehicle = job.vehicle
                size = vehicle.dimensions
                start = {
                    "the front bumper": (size.wheelbase_mm or 0) + (size.front_overhang_mm or 0),
                    "the rear bumper": -(size.rear_overhang_mm or 0),
                    "mark Ca": (size.wheelbase_mm or 0) + 1500,
                    "mark Cb": -1500.0,
                }[found[3]]
                x = start + float(found[1].replace(",", "")) * (1 if found[2] == "ahead of" else -1)
                y = float((found[4] or "0").replace(",", "")) * (-1 if found[5] == "right" else 1)
                # Nobody measured a thrust line here, so it lies on the centreline; figures are whole mm.
                assert (x, y) == pytest.approx((point.x_mm, point.y_mm), abs=0.51)
                assert 0 < line.u_along_mm < 10
                assert 0 < line.u_offset_mm < 10
                seen.add(found[3].split()[0])
    assert seen == {"the", "mark"}


def test_no_string_or_tape_that_makes_a_mark_passes_the_tyres_or_under_the_car(
    setups: dict[Job, Setup],
) -> None:
    """A string across the car from hub to hub would run into both tyres where they stand on the floor."""
    made = set()
    for job, setup in setups.items():
        for stage in setup.stages:
            places = {mark.name: (mark.x_mm, mark.y_mm) for mark in stage.marks}
            size = job.vehicle.dimensions
            ahead, half = size.wheelbase_mm or 0, (size.tyre_width_mm or 0) / 2
            rear, front = (size.rear_track_mm or 0) / 2 + half, (size.front_track_mm or 0) / 2 + half
            between = ((-150, -rear), (-150, rear), (ahead, front), (ahead, -front))
            car = shapely.Polygon(between).buffer(-1)
            for mark in stage.marks:
                ways = [shapely.LineString([places[one], places[mark.name]]) for one in mark.made_from]
                if len(mark.made_from) == 2:
                    ways.append(shapely.LineString([places[one] for one in mark.made_from]))
                assert not any(way.intersects(car) for way in ways), (job, mark.how)
                made.add(mark.short)
    assert {"La", "Rb", "Ca", "Cb", "BF"} <= made


def test_a_symmetric_board_has_equal_diagonals(setups: dict[Job, Setup]) -> None:
    for job in (LIRRA, SAGEBROOK):
        assert_equal_diagonals(setups[job])


def assert_equal_diagonals(setup: Setup) -> None:
    diagonals = the_only(setup).diagonals
    assert diagonals
    (stage,) = setup.stages
    marks = {mark.name: mark for mark in stage.marks}
    feet = {point.name: point for point in the_only(setup).points}
    lengths = [
        hypot(feet[name].x_mm - marks[mark].x_mm, feet[name].y_mm - marks[mark].y_mm)
        for mark, name in zip(diagonals.marks, diagonals.points, strict=True)
    ]
    assert lengths[0] == pytest.approx(lengths[1], abs=1e-6)
    assert diagonals.distance_mm == pytest.approx(lengths[0])
    # A board that is off by its whole lateral tolerance makes them differ by no less than is permitted.
    (item,) = stage.placements
    assert item.tolerance
    assert item.tolerance.lateral_mm

    def difference(shift_mm: float, turn_deg: float) -> float:
        pose, turn = item.in_vehicle, radians(turn_deg)
        moved = []
        for mark, name in zip(diagonals.marks, diagonals.points, strict=True):
            x, y = feet[name].x_mm - pose.x_mm, feet[name].y_mm - pose.y_mm
            at = (
                pose.x_mm + x * cos(turn) - y * sin(turn),
                pose.y_mm + x * sin(turn) + y * cos(turn) + shift_mm,
            )
            moved.append(hypot(at[0] - marks[mark].x_mm, at[1] - marks[mark].y_mm))
        return abs(moved[0] - moved[1])

    assert item.tolerance.yaw_deg
    alone = min(difference(item.tolerance.lateral_mm, 0.0), difference(0.0, item.tolerance.yaw_deg))
    assert diagonals.permitted_mm == pytest.approx(alone, rel=0.01)


def test_what_nobody_stated_is_named_and_leaves_the_verdict_open(client: Snapline) -> None:
    for _, _, answer in fixtures(set_up(client, SKARRA)):
        assert answer.provable is None
        assert {"vehicle.rear_track_mm", "vehicle.tyre_width_mm"} <= set(answer.uncertainty_not_stated)
        assert "nobody stated how surely" in answer.words
    stated = set_up(client, SKARRA, standard_uncertainty=measured_well(SKARRA), u_marking_mm=0.5)
    for _, _, answer in fixtures(stated):
        assert answer.uncertainty_not_stated == ()
        assert answer.provable is True
        assert answer.what_would_do == ()


def test_a_proof_needs_a_guard_band_of_1_645_u(setups: dict[Job, Setup]) -> None:
    verdicts = set()
    for setup in setups.values():
        for _, item, answer in fixtures(setup):
            for proof in answer.proofs:
                left = proof.tolerance - 1.6448536269514722 * proof.u
                assert proof.acceptance == (pytest.approx(left) if left > 0 else None)
                assert item.tolerance
                assert proof.tolerance == getattr(item.tolerance, f"{proof.axis}_{proof.unit}")
            failed = any(proof.acceptance is None for proof in answer.proofs)
            assert (answer.provable is False) == failed
            verdicts.add(answer.provable)
    assert verdicts == {None, False}


def test_a_poor_tape_cannot_prove_what_class_one_or_two_stages_can(client: Snapline) -> None:
    job = Job("brennhavik-halvenn-2021-eu", "camera-board")
    common: dict[str, Any] = {
        "standard_uncertainty": measured_well(job),
        "u_marking_mm": 0.4,
        "auxiliary_marks": False,
    }
    poor, fine = (Tape(class_=name, length_mm=10_000) for name in ("III", "I"))
    answer = the_only(set_up(client, job, **common, tape=poor))
    assert answer.provable is False
    assert "cannot be proven" in answer.words
    assert answer.what_would_do == (
        (
            "Any one of these would do: marks made by string from the car's own; a tape of class I; "
            "a laser distance meter, 1.0 mm at most in error."
        ),
    )
    assert the_only(set_up(client, job, **common, tape=fine)).provable is True
    in_stages = set_up(client, job, **common, tape=poor, two_stages=True)
    assert the_only(in_stages).provable is True
    # The marks of the first stage are given with the tapes that make them.
    marks = {mark.name: mark for mark in in_stages.stages[0].marks}
    made = [mark for mark in marks.values() if mark.kind == "set_out"]
    assert made
    for mark in made:
        assert len(mark.made_from) == 2
        assert all(f"mark {marks[name].short}" in mark.how for name in mark.made_from)


def test_two_stages_reach_what_direct_tapes_do_not(client: Snapline) -> None:
    common: dict[str, Any] = {
        "standard_uncertainty": measured_well(CELADINE),
        "u_marking_mm": 0.5,
        "auxiliary_marks": False,
        "tape": Tape(class_="III", length_mm=10_000),
    }
    direct = the_only(set_up(client, CELADINE, **common))
    assert direct.provable is False
    assert any(point.reasons for point in direct.points)
    assert "No two marks" in direct.words
    assert the_only(set_up(client, CELADINE, **common, two_stages=True)).provable is True


def test_a_short_tape_says_which_marks_it_does_not_reach_and_that_a_longer_one_would(
    client: Snapline,
) -> None:
    short = Tape(class_="I", length_mm=900)
    answer = the_only(
        client.setups.compute(vehicle_id=CELADINE.vehicle_id, procedure_id=CELADINE.procedure_id, tape=short)
    )
    assert answer.provable is False
    reasons = " ".join(reason for point in answer.points for reason in point.reasons)
    assert "front left wheel" in reasons
    assert "the tape is 900 mm long" in reasons
    assert answer.what_would_do == ("This would do: a tape of 30 m.",)


def test_a_mark_that_a_person_gives_replaces_the_cars_own_or_is_one_more(client: Snapline) -> None:
    before = set_up(client, SAGEBROOK)
    (stage,) = before.stages
    own = {mark.name: mark for mark in stage.marks}
    wheel = own["front left wheel"]
    given = {
        "front left wheel": GivenMark(x_mm=wheel.x_mm + 3, y_mm=wheel.y_mm + 4, u_mm=0.3),
        "post by the door": GivenMark(x_mm=7200, y_mm=1900, u_mm=0.2, how="A nail in the floor."),
        "post by the wall": GivenMark(x_mm=7100, y_mm=-2000, u_mm=0.2),
    }
    after = set_up(client, SAGEBROOK, marks=given)
    marks = {mark.name: mark for mark in after.stages[0].marks}
    assert marks["front left wheel"].kind == "given"
    assert marks["front left wheel"].y_mm == wheel.y_mm + 4
    assert marks["front left wheel"].u_mm == pytest.approx(0.3)
    assert marks["post by the door"].how == "A nail in the floor."
    # Two sure marks beside the board make its place surer.
    first, second = the_only(before), the_only(after)
    assert second.u_lateral_mm
    assert first.u_lateral_mm
    assert second.u_lateral_mm < first.u_lateral_mm / 2
    used = {tape.mark for point in second.points for tape in point.distances}
    assert used & {"post by the door", "post by the wall"}


def test_wheel_marks_follow_the_measured_tyre_and_clearance(client: Snapline) -> None:
    setup = set_up(client, LIRRA, measured={"vehicle.tyre_width_mm": 215.0}, wheel_mark_clearance_mm=80.0)
    track_mm = LIRRA.vehicle.dimensions.front_track_mm
    assert track_mm
    mark = next(mark for mark in setup.stages[0].marks if mark.name == "front left wheel")
    assert mark.y_mm == pytest.approx(track_mm / 2 + 215 / 2 + 80)
    assert "80 mm beyond the tyre's side wall" in mark.how
    assert setup.tyre_width_mm == 215.0
    with pytest.raises(BadRequest) as refused:
        set_up(client, LIRRA, measured={"vehicle.tyre_width_mm": 8.5})
    assert refused.value.errors[0].pointer == "/measured/vehicle.tyre_width_mm"


def test_a_laser_meter_measures_as_its_maker_says(client: Snapline) -> None:
    setup = set_up(client, LIRRA, tape=Tape(mpe_mm=1.0, length_mm=40_000))
    assert setup.tape_text == "Laser distance meter, 1 mm at most in error, 40 m"
    for _, point in points(setup):
        for tape in point.distances:
            assert tape.u_mm == pytest.approx((1 / 3 + 0.25 + 1 / 12) ** 0.5)
    assert set_up(client, LIRRA).tape_text == "Tape of class II, 10 m"
    with pytest.raises(BadRequest) as refused:
        set_up(client, LIRRA, tape=Tape(length_mm=5000))
    assert refused.value.errors[0].pointer == "/tape/class"


def test_the_aim_follows_from_place_and_range(setups: dict[Job, Setup]) -> None:
    # u of the bearing is the uncertainty across the line of sight over the distance.
    (item,) = setups[CELADINE].stages[0].placements
    answer = item.setting_out
    assert answer
    assert answer.aim
    assert answer.u_lateral_mm
    sensor = CELADINE.vehicle.sensors[answer.aim.sensor]
    away = hypot(item.in_vehicle.x_mm - sensor.x_mm, item.in_vehicle.y_mm - sensor.y_mm)
    assert answer.aim.u_yaw_deg == pytest.approx(57.29578 * answer.u_lateral_mm / away, rel=1e-3)
    assert item.u_z_mm
    assert answer.aim.u_elevation_deg == pytest.approx(57.29578 * item.u_z_mm / away, rel=1e-2)


def test_marks_that_the_car_cannot_give_are_named_with_what_to_measure() -> None:
    vehicle = LIRRA.vehicle
    bare = msgspec.structs.replace(
        vehicle, dimensions=msgspec.structs.replace(vehicle.dimensions, tyre_width_mm=None)
    )
    request = SetupRequest(vehicle_id=LIRRA.vehicle_id, procedure_id=LIRRA.procedure_id)
    told = left_out(gather(bare, request), request)
    assert len(told) == 4
    assert told[0] == "Front left wheel: measure the tyre width and give it."
    assert left_out(gather(vehicle, request), request) == ()
    # A person who gives the mark needs no dimension for it, and one who measures the tyre gets all four.
    given = {"front left wheel": GivenMark(x_mm=2600, y_mm=900, u_mm=1)}
    with_mark = msgspec.structs.replace(request, marks=given)
    assert len(left_out(gather(bare, with_mark), with_mark)) == 3
    measured = msgspec.structs.replace(request, measured={"vehicle.tyre_width_mm": 205.0})
    assert left_out(gather(bare, measured), measured) == ()


def test_a_tape_passes_under_the_car_only_where_somebody_says_that_it_is_clear(client: Snapline) -> None:
    # A sure mark on the far side, abreast of the middle of the left mat.
    job = Job("ostrivelle-cambresolle-2019-eu", "surround-view-mats")
    post = {"post": GivenMark(x_mm=1400, y_mm=-1500, u_mm=0.01)}
    for clear in (False, True):
        setup = set_up(client, job, marks=post, tape_under_vehicle=clear)
        left = next(item for item in setup.stages[0].placements if item.id == "left")
        assert left.setting_out
        hooked = [tape.mark for point in left.setting_out.points for tape in point.distances]
        hooked += [point.check.mark for point in left.setting_out.points if point.check]
        assert ("post" in hooked) == clear
