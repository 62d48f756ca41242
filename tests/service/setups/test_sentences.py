"""The words say what the figures say, without a sign: whoever reads them finds the same point."""

import re

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from service.setups.job import COMPLETE, Job, place_of
from service.setups.words import Reader
from snapline.wire import geometry as wire
from snapline.wire.setups import Setup
from snapline_service.errors import DatumsDoNotFixAPoint
from snapline_service.geometry import Sensor, VehicleGeometry, place
from snapline_service.setups import wording
from snapline_service.setups.translation import placement_of

SIGNED = re.compile(r"[-−+±]\s?\d")
every_job = pytest.mark.parametrize("job", COMPLETE, ids=str)

CAR = VehicleGeometry(
    wheelbase_mm=2800.0,
    front_track_mm=1560.0,
    rear_track_mm=1580.0,
    front_overhang_mm=870.0,
    rear_overhang_mm=960.0,
    width_mm=1840.0,
)
PLACES = {
    "front_bumper": (3670.0, 0.0),
    "rear_bumper": (-960.0, 0.0),
    "front_axle": (2800.0, 0.0),
    "rear_axle": (0.0, 0.0),
    "wheel:front_left": (2800.0, 780.0),
    "wheel:front_right": (2800.0, -780.0),
    "wheel:rear_left": (0.0, 790.0),
    "wheel:rear_right": (0.0, -790.0),
}


def reader_of(job: Job) -> Reader:
    sensors = job.vehicle.sensors
    return Reader(
        lambda datum: place_of(job.vehicle, datum),
        {name: sensor.yaw_deg for name, sensor in sensors.items()},
        {name: sensor.z_mm for name, sensor in sensors.items()},
    )


@every_job
def test_the_sentence_alone_leads_to_the_computed_point(setups: dict[Job, Setup], job: Job) -> None:
    reader = reader_of(job)
    for stage in setups[job].stages:
        for item in stage.placements:
            pose = item.in_vehicle
            assert reader.point(item.sentence) == pytest.approx((pose.x_mm, pose.y_mm, pose.z_mm), abs=0.1)


@every_job
def test_no_sentence_holds_a_signed_number(setups: dict[Job, Setup], job: Job) -> None:
    for stage in setups[job].stages:
        for item in stage.placements:
            assert not SIGNED.search(item.sentence)
            assert item.sentence[0].isupper() or item.sentence[0].isdigit()
            assert item.sentence.endswith(".")


@pytest.mark.parametrize(
    ("job", "said"),
    [
        (
            Job("jorvantel-rhedgarn-2023-us", "seat-weight-check"),
            "1,350 mm ahead of the rear axle, 380 mm right of the centreline",
        ),
        (
            Job("quellovane-lirra-2020-gb", "camera-board"),
            "2,200 mm ahead of the front bumper, in line with the front camera",
        ),
        # These cameras look 22 degrees off straight back: 1,800 mm out is only 1,669 mm behind them.
        (
            Job("ostrivelle-cambresolle-2023-eu", "mirror-cameras-boards"),
            "1,800 mm out from the left mirror camera along its axis",
        ),
        (
            Job("kadoruma-numira-2024-nz", "corner-radars-plates"),
            "1,600 mm out from the front left radar along its axis, 2,170 mm left of the centreline",
        ),
        (
            Job("brennhavik-halvenn-2017-eu", "rear-view-mat"),
            "1,200 mm behind the rear bumper, on the centreline",
        ),
    ],
)
def test_sentences_as_a_specialist_would_say_them(setups: dict[Job, Setup], job: Job, said: str) -> None:
    assert setups[job].stages[0].placements[0].sentence.partition(";")[0] == said


def test_left_and_right_are_those_of_the_driver(setups: dict[Job, Setup]) -> None:
    seen = set()
    for setup in setups.values():
        for stage in setup.stages:
            for item in stage.placements:
                if found := re.search(r"(left|right) of the centreline", item.sentence):
                    seen.add(found[1])
                    assert (item.in_vehicle.y_mm > 0) == (found[1] == "left")
    assert seen == {"left", "right"}


lengths = st.integers(-30_000, 30_000).map(lambda tenths: tenths / 10)
# Exactly along the car, or clearly off it; in between the words round by up to 0.2 mm in a metre.
yaws = st.sampled_from([0.0, 180.0, -180.0]) | st.floats(2.0, 178.0) | st.floats(-178.0, -2.0)
sensors = st.builds(Sensor, lengths, lengths, lengths, yaws)
names = ["rear_left_radar", "front_camera"]
datums = [f"sensor:{name}" for name in names]


placements = st.builds(
    wire.Placement,
    aim_line=st.sampled_from(["centreline", "thrust_line", *datums]),
    along=st.builds(wire.Along, datum=st.sampled_from([*PLACES, *datums]), distance_mm=lengths),
    lateral=st.builds(
        wire.Lateral,
        datum=st.sampled_from(["aim_line", "centreline", *(name for name in PLACES if ":" in name), *datums]),
        distance_mm=lengths | st.just(0.0),
    ),
    height=st.builds(
        wire.Height, datum=st.sampled_from(["floor", *datums]), distance_mm=lengths | st.just(0.0)
    ),
)


@given(placement=placements, seen=st.tuples(sensors, sensors))
def test_any_sentence_leads_to_its_point_whichever_way_the_sensor_looks(
    placement: wire.Placement, seen: tuple[Sensor, Sensor]
) -> None:
    known = dict(zip(names, seen, strict=True))
    car = VehicleGeometry(**{n: getattr(CAR, n) for n in CAR.__slots__ if n != "sensors"}, sensors=known)
    # A person cannot be told 'level with' along a slanting line, and no catalogue does.
    assume(placement.along.distance_mm != 0.0)
    try:
        pose = place(car, placement_of(placement)).in_vehicle
    except DatumsDoNotFixAPoint:
        assume(False)
    sentence = wording.sentence(placement, pose.yaw_deg - placement.yaw_deg, "target")
    assert not SIGNED.search(sentence)
    where = PLACES | {f"sensor:{name}": (sensor.x_mm, sensor.y_mm) for name, sensor in known.items()}
    reader = Reader(
        where.__getitem__,
        {name: sensor.yaw_deg for name, sensor in known.items()},
        {name: sensor.z_mm for name, sensor in known.items()},
    )
    found = reader.point(sentence)
    assert found == pytest.approx((pose.x_mm, pose.y_mm, pose.z_mm), abs=1e-6, rel=1e-6), sentence
