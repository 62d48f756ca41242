"""The demo workshops: bays of sound form that differ, and physical fixtures with gaps."""

import json
from itertools import pairwise
from math import hypot

import msgspec
import pytest
from shapely import LineString, Polygon

from service.catalogue.demo import BAYS, FIXTURES, FOLDER, SITES, VEHICLES
from snapline.wire.sites import Bay, SiteDocument
from snapline_service.faults import Checker
from snapline_service.schemas import closed


def test_there_are_four_sites_with_nine_bays_of_known_form() -> None:
    checker = Checker(closed(SiteDocument))
    assert all(checker.faults(json.loads(p.read_text())) == [] for p in (FOLDER / "sites").glob("*.json"))
    assert len(SITES) == 4
    assert len(BAYS) == sum(len(site.bays) for site in SITES) == 9
    bare = {
        msgspec.json.encode((bay.ring, bay.obstacles, bay.ceiling_mm, bay.surface)) for bay in BAYS.values()
    }
    assert len(bare) == 9


@pytest.mark.parametrize("bay", BAYS.values(), ids=BAYS)
def test_a_bay_is_a_simple_polygon_run_counter_clockwise_with_its_doors_and_obstacles_in_place(
    bay: Bay,
) -> None:
    outline = Polygon(bay.ring)
    assert outline.is_valid
    assert outline.exterior.is_ccw
    for obstacle in bay.obstacles:
        assert Polygon(obstacle.polygon).exterior.is_ccw
        assert outline.covers(Polygon(obstacle.polygon))
    for door in bay.doors:
        assert outline.exterior.covers(LineString([door.start, door.end]))
        assert hypot(door.end[0] - door.start[0], door.end[1] - door.start[1]) >= 2400
    assert bay.doors


def test_the_bays_differ_as_the_readme_says() -> None:
    assert len(BAYS["mill-corner"].ring) == 6
    assert BAYS["mill-lift"].surface == "alignment_lift"
    assert len(BAYS["north-posts"].obstacles) == 2
    assert max(x for x, _ in BAYS["north-short"].ring) < 6500
    assert BAYS["copper-beam"].obstacles[0].z_min_mm > 1500
    assert {door.start[0] for door in BAYS["copper-yard-door"].doors} == {0, 9800}
    assert (BAYS["harbour-dim"].light_max_lux or 0) < 200
    survey = BAYS["harbour-slope"].floor
    assert survey is not None
    assert any(
        abs(b.z_mm - a.z_mm) / abs(b.x_mm - a.x_mm) > 0.005
        for a, b in pairwise(survey.points)
        if a.x_mm != b.x_mm
    )


def test_the_tall_van_and_no_car_meets_the_beam() -> None:
    beam_mm = BAYS["copper-beam"].obstacles[0].z_min_mm
    assert [v.id for v in VEHICLES.values() if (v.dimensions.height_mm or 0) > beam_mm] == [
        "fennhaul-stokerran-2020-us"
    ]


def test_assets_are_known_fixtures_of_which_some_cannot_be_used_and_some_are_missing() -> None:
    assets = [asset for site in SITES for asset in site.assets]
    assert len({asset.id for asset in assets}) == len({asset.serial for asset in assets}) == len(assets)
    assert {asset.fixture for asset in assets} <= set(FIXTURES)
    assert any(asset.condition == "out_of_service" for asset in assets)
    assert any(asset.checked_until and asset.checked_until < "2025" for asset in assets)
    north = {asset.fixture for site in SITES if site.id == "north-quay" for asset in site.assets}
    assert not north & {"grid-heated", "doppler-24", "doppler-77", "light-box"}
