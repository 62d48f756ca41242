"""The room that a setup takes, against shapely."""

from typing import TypeVar

import msgspec
import pytest
from shapely import Geometry, GeometryCollection, Point, Polygon, affinity, box, unary_union

from service import small
from service.catalogue.demo import FIXTURES
from service.setups.job import COMPLETE, Job, known
from service.shop import Shop
from snapline import Snapline
from snapline.wire.catalogue import VehicleDocument
from snapline.wire.common import Pose
from snapline.wire.setups import Extent, PlacedFixture, Setup, SetupRequest, SetupStage
from snapline_service.errors import MissingDimension
from snapline_service.setups.actions import compute
from snapline_service.setups.drawing import draw

Shape = TypeVar("Shape", bound=Geometry)
every_job = pytest.mark.parametrize("job", COMPLETE, ids=str)


def body_of(vehicle: VehicleDocument) -> Polygon:
    size = vehicle.dimensions
    front = known(size.wheelbase_mm) + known(size.front_overhang_mm)
    half = known(size.width_mm) / 2
    return box(-known(size.rear_overhang_mm), -half, front, half)


def put(shape: Shape, pose: Pose) -> Shape:
    """Return a shape of the fixture's own frame on the floor."""
    turned = affinity.rotate(shape, pose.yaw_deg, origin=(0, 0))
    return affinity.translate(turned, pose.x_mm, pose.y_mm)


def shapes_of(item: PlacedFixture) -> list[Geometry]:
    """Return all that a placement takes: the outlines of fixture and carrier, the clear zone, the feet."""
    outlines = [FIXTURES[name].footprint for name in stand_of(item)]
    shapes: list[Geometry] = [put(Polygon(outline), item.in_vehicle) for outline in outlines if outline]
    shapes += [Polygon(item.clear_zone)] if item.clear_zone else []
    return [*shapes, Point(item.in_vehicle.x_mm, item.in_vehicle.y_mm), *_points(item)]


def _points(item: PlacedFixture) -> list[Point]:
    return [Point(foot.x_mm, foot.y_mm) for foot in item.feet]


def as_box(extent: Extent) -> Polygon:
    return box(extent.x_min_mm, extent.y_min_mm, extent.x_max_mm, extent.y_max_mm)


def stand_of(item: PlacedFixture) -> list[str]:
    return [chosen.id for chosen in (item.fixture, item.carrier) if chosen]


@every_job
def test_the_extent_is_the_box_about_the_car_and_all_that_stands(setups: dict[Job, Setup], job: Job) -> None:
    setup = setups[job]
    for stage in setup.stages:
        assert stage.extent
        everything = [body_of(job.vehicle), *(s for item in stage.placements for s in shapes_of(item))]
        room = as_box(stage.extent)
        assert room.bounds == pytest.approx(GeometryCollection(everything).bounds, abs=1e-6)
        assert all(room.buffer(1e-6).covers(shape) for shape in everything)
        assert stage.extent.length_mm == pytest.approx(stage.extent.x_max_mm - stage.extent.x_min_mm)
        assert stage.extent.width_mm == pytest.approx(stage.extent.y_max_mm - stage.extent.y_min_mm)
        assert stage.extent.height_mm == tallest(stage, job.vehicle)
    assert setup.envelope
    stages = unary_union([as_box(stage.extent) for stage in setup.stages if stage.extent])
    assert as_box(setup.envelope).bounds == pytest.approx(stages.bounds, abs=1e-6)
    assert setup.unknown_dimensions == ()


def tallest(stage: SetupStage, vehicle: VehicleDocument) -> float:
    tops = [FIXTURES[name].top_mm for item in stage.placements for name in stand_of(item)]
    return max(known(vehicle.dimensions.height_mm), *(top for top in tops if top), 0.0)


@every_job
def test_feet_outlines_and_clear_zones_turn_with_the_fixture(setups: dict[Job, Setup], job: Job) -> None:
    for stage in setups[job].stages:
        for item in stage.placements:
            stands = [FIXTURES[name] for name in stand_of(item)]
            feet = [(foot.x_mm, foot.y_mm) for stand in stands for foot in stand.feet]
            placed = [put(Point(x, y), item.in_vehicle).coords[0] for x, y in feet]
            assert [(foot.x_mm, foot.y_mm) for foot in item.feet] == [
                pytest.approx(p, abs=1e-6) for p in placed
            ]
            # What a stand carries has its footprint on the floor in the stand's.
            outline = stands[-1].footprint if stands else None
            assert bool(item.footprint) == bool(outline)
            if outline:
                gap = Polygon(item.footprint).symmetric_difference(put(Polygon(outline), item.in_vehicle))
                assert gap.area < 1e-3
            zone = job.placements[item.id].clear_zone
            assert bool(item.clear_zone) == bool(zone)
            if zone:
                own = box(-zone.behind_mm, -zone.right_mm, zone.facing_mm, zone.left_mm)
                gap = Polygon(item.clear_zone).symmetric_difference(put(own, item.in_vehicle))
                assert gap.area < 1e-3


def test_a_clear_zone_ahead_of_the_car_reaches_towards_it(setups: dict[Job, Setup]) -> None:
    job = Job("jorvantel-rhedgarn-2020-us", "radar-reflector")
    (item,) = (item for stage in setups[job].stages for item in stage.placements)
    zone = job.placements[item.id].clear_zone
    assert zone
    assert Polygon(item.clear_zone).bounds[0] == pytest.approx(item.in_vehicle.x_mm - zone.facing_mm)


def test_no_fixture_of_a_stage_stands_in_the_car_or_in_another(setups: dict[Job, Setup]) -> None:
    for job, setup in setups.items():
        for stage in setup.stages:
            solid = [Polygon(item.footprint) for item in stage.placements if item.footprint]
            if not any(item.fixture and item.fixture.fixture_kind == "weight" for item in stage.placements):
                solid.append(body_of(job.vehicle))
            for index, shape in enumerate(solid):
                assert all(shape.intersection(other).area == 0.0 for other in solid[:index]), job


def test_a_wider_car_takes_more_room(client: Snapline, setups: dict[Job, Setup]) -> None:
    job = Job("quellovane-lirra-2016-eu", "camera-board")
    setup = client.setups.compute(
        vehicle_id=job.vehicle_id, procedure_id=job.procedure_id, measured={"vehicle.width_mm": 1900.0}
    )
    assert setup.envelope
    assert (setup.envelope.y_min_mm, setup.envelope.y_max_mm) == (-950.0, 950.0)
    before = setups[job].envelope
    assert before
    assert before.width_mm < 1900.0


def test_a_clear_zone_that_is_wider_on_one_side_keeps_its_sides(shop: Shop) -> None:
    documents = small.catalogue()
    car = next(document for document in documents if document["id"] == "ambrel-2020")
    (board,) = car["procedures"][0]["stages"][0]["placements"]
    board["clear_zone"] = {"facing_mm": 1000, "behind_mm": 200, "left_mm": 700, "right_mm": 300}
    file = shop.file(shop.put(documents))
    setup = compute(file, SetupRequest(vehicle_id="ambrel-2020", procedure_id="board"))
    # The board stands 2,400 mm ahead of the bumper at 3,500 mm and faces the car: left is the car's right.
    (item,) = setup.stages[0].placements
    assert Polygon(item.clear_zone).bounds == pytest.approx((5900 - 1000, -700, 5900 + 200, 300), abs=1e-6)


def test_without_the_bodys_width_there_is_no_envelope_and_the_dimension_is_named(shop: Shop) -> None:
    file = shop.file(shop.put(small.catalogue()))
    request = SetupRequest(vehicle_id="ambrel-2020", procedure_id="board")
    setup = compute(file, request)
    assert (setup.envelope, setup.stages[0].extent) == (None, None)
    assert "vehicle.width_mm" in setup.unknown_dimensions
    with pytest.raises(MissingDimension, match="cannot be drawn"):
        draw(setup, None)
    # With the width the room is known; the tracks are still missing, and only a drawing needs them.
    measured = {"vehicle.width_mm": 1800.0}
    wide = compute(file, msgspec.structs.replace(request, measured=measured))
    assert wide.envelope
    assert wide.envelope.y_max_mm >= 900.0
    with pytest.raises(MissingDimension, match="front track") as missing:
        draw(wide, None)
    assert missing.value.pointer == "/measured/vehicle.front_track_mm"
    measured |= {"vehicle.front_track_mm": 1500.0, "vehicle.rear_track_mm": 1510.0}
    whole = compute(file, msgspec.structs.replace(request, measured=measured))
    assert whole.unknown_dimensions == ()
    assert draw(whole, None).startswith("<svg")
