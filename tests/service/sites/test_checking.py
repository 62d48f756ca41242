"""What is said of a site must be possible: things in a bay, light, headings, clocks, names."""

from typing import Any

import msgspec
import pytest
from shapely.errors import GEOSException

from service.catalogue.demo import BAYS, FIXTURES, SITES
from service.sites.workshop import ASSET, BAY, SITE
from snapline.wire.sites import Asset, Bay, Site, SiteDocument
from snapline_service.sites.checking import asset_faults, bay_faults, document_faults, site_faults

POST = BAY["obstacles"][0]
DOOR = BAY["doors"][0]


def spoilt(**changes: Any) -> dict[str, str]:
    """Return what is wrong with a bay that is good but for these changes, by pointer."""
    bay = msgspec.convert({**BAY, **changes}, Bay)
    return {fault.pointer: f"{fault.detail} {fault.mend}" for fault in bay_faults(bay)}


def post(**changes: Any) -> dict[str, str]:
    return spoilt(obstacles=[{**POST, **changes}])


def square(x: float, y: float, side: float) -> list[list[float]]:
    return [[x, y], [x + side, y], [x + side, y + side], [x, y + side]]


def test_the_demo_has_no_faults() -> None:
    for site in SITES:
        assert list(document_faults(site, set(FIXTURES))) == []
    assert len(BAYS) == 9


def test_a_good_bay_has_no_faults() -> None:
    assert spoilt() == {}
    assert spoilt(obstacles=[], doors=[], ceiling_mm=None, floor=None) == {}


def test_of_a_spoilt_outline_what_stands_in_it_is_not_judged() -> None:
    assert list(spoilt(ring=BAY["ring"][::-1], doors=[{**DOOR, "end": [1, 1]}])) == ["/ring"]


@pytest.mark.parametrize(
    ("place", "word"),
    [
        (square(13000, 1000, 300), "stands outside the bay"),
        (square(11900, 1000, 300), "sticks out of the bay by 200 mm"),
        (square(-6, 1000, 300), "sticks out of the bay by 6 mm"),
    ],
)
def test_an_obstacle_outside_the_ring_is_told_with_how_far(place: list[list[float]], word: str) -> None:
    told = post(polygon=place)
    assert list(told) == ["/obstacles/0/polygon"]
    assert f"'post' {word}" in told["/obstacles/0/polygon"]


def test_an_obstacle_may_touch_the_wall_within_what_a_tape_finds() -> None:
    assert post(polygon=square(0, 6700, 300)) == {}
    assert post(polygon=square(-4, 1000, 300)) == {}


def test_an_obstacle_that_bridges_a_recess_sticks_out_between_its_corners() -> None:
    """In a U-shaped bay all corners of a beam may be inside although its middle is not."""
    ring = [
        [0, 0],
        [12000, 0],
        [12000, 7000],
        [9000, 7000],
        [9000, 3000],
        [3000, 3000],
        [3000, 7000],
        [0, 7000],
    ]
    beam = {"name": "beam", "polygon": [[1000, 5000], [11000, 5000], [11000, 5200], [1000, 5200]]}
    told = spoilt(ring=ring, obstacles=[beam], doors=[], floor=None)
    assert "sticks out of the bay between its corners" in told["/obstacles/0/polygon"]


@pytest.mark.parametrize(
    "place", [[[1, 1], [2000, 2000], [2000, 1], [1, 2000]], [[1, 1], [500, 1], [900, 1]]]
)
def test_an_obstacle_that_crosses_itself_or_is_a_line_is_told(place: list[list[float]]) -> None:
    assert "crosses itself or encloses nothing" in post(polygon=place)["/obstacles/0/polygon"]


@pytest.mark.parametrize(
    ("heights", "at"),
    [
        ({"z_min_mm": 2000, "z_max_mm": 2000}, "z_max_mm"),
        ({"z_min_mm": 2000, "z_max_mm": 1500}, "z_max_mm"),
        ({"z_max_mm": 4001}, "z_max_mm"),
        ({"z_min_mm": 4000}, "z_min_mm"),
    ],
)
def test_heights_that_cannot_be_are_told(heights: dict[str, float], at: str) -> None:
    assert list(post(**heights)) == [f"/obstacles/0/{at}"]


def test_without_a_ceiling_an_obstacle_may_be_any_height() -> None:
    assert spoilt(ceiling_mm=None, obstacles=[{**POST, "z_min_mm": 3000, "z_max_mm": 9000}]) == {}


@pytest.mark.parametrize("ceiling_mm", [4.2, 165, 1999])
def test_a_ceiling_under_two_metres_is_in_another_unit_or_a_beam(ceiling_mm: float) -> None:
    told = spoilt(ceiling_mm=ceiling_mm, obstacles=[])
    assert list(told) == ["/ceiling_mm"]
    assert "lower than 2,000 mm" in told["/ceiling_mm"]


@pytest.mark.parametrize(
    ("door", "at", "word"),
    [
        ({"start": [300, 5000]}, "/start", "300 mm from the outline"),
        ({"end": [6, 1500]}, "/end", "6 mm from the outline"),
        ({"end": [0, 5000]}, "/end", "ends where it starts"),
        ({"start": [0, 9000]}, "", "is 7,500 mm wide, its wall only 7,000 mm"),
        ({"end": [3000, 0]}, "", "starts in wall 3 and ends in wall 0"),
        ({"start": [0, 7000], "end": [12000, 0]}, "", "13,892 mm wide"),
    ],
)
def test_a_door_lies_in_one_wall(door: dict[str, list[float]], at: str, word: str) -> None:
    told = spoilt(doors=[{**DOOR, **door}])
    assert list(told) == [f"/doors/0{at}"]
    assert word in told[f"/doors/0{at}"]


def test_a_door_may_be_as_wide_as_its_wall_and_measured_to_5_mm() -> None:
    assert spoilt(doors=[{**DOOR, "start": [0, 7000], "end": [0, 0]}]) == {}
    assert spoilt(doors=[{**DOOR, "start": [4.9, 5000], "end": [-4.9, 1500]}]) == {}


def survey(*places: tuple[float, float]) -> dict[str, str]:
    points = [{"x_mm": x, "y_mm": y, "z_mm": 0} for x, y in places]
    return spoilt(floor={"surveyed_on": "2025-04-07", "u_z_mm": 0.5, "points": points})


def test_a_levelled_point_outside_the_bay_is_pointed_at() -> None:
    told = survey((0, 0), (12000, 0), (6000, 7300))
    assert told == {
        "/floor/points/2": "The levelled point (6,000, 7,300) is 300 mm outside the bay. "
        "Give it in the bay's own axes."
    }


@pytest.mark.parametrize("places", [[(0, 0), (6000, 0), (12000, 0)], [(0, 0), (4000, 4000), (6900, 6950)]])
def test_levelled_points_on_one_line_say_nothing_across_it(places: list[tuple[float, float]]) -> None:
    assert "on one line" in survey(*places)["/floor/points"]


def test_a_place_is_levelled_once() -> None:
    assert list(survey((0, 0), (12000, 0), (0, 7000), (0.2, 0))) == ["/floor/points/3"]


def test_light_and_headings_agree_with_themselves() -> None:
    assert list(spoilt(light_min_lux=900)) == ["/light_min_lux"]
    assert spoilt(light_min_lux=800) == {}
    assert spoilt(light_min_lux=900, light_max_lux=None) == {}
    assert list(spoilt(headings_deg=[0, 90, 360, -270])) == ["/headings_deg/2", "/headings_deg/3"]


def test_every_fault_is_named_at_once() -> None:
    told = spoilt(
        obstacles=[{**POST, "z_max_mm": 5000}],
        doors=[{**DOOR, "end": [0, 5000]}],
        light_min_lux=900,
        headings_deg=[0, 0],
    )
    assert set(told) == {"/obstacles/0/z_max_mm", "/doors/0/end", "/light_min_lux", "/headings_deg/1"}


def test_two_hundred_corners_that_cross_everywhere_are_refused_with_few_words() -> None:
    star = [[6000 + 5000 * (n % 2), 3500 + (n * 37) % 3000] for n in range(200)]
    try:
        told = bay_faults(msgspec.convert({**BAY, "ring": star}, Bay))
    except GEOSException:  # pragma: no cover - would be a failure of the service
        pytest.fail("a ring must never break the checks")
    assert 0 < len(told) <= 200


def clock(time_zone: str, longitude_deg: float) -> list[str]:
    site = msgspec.convert({**SITE, "time_zone": time_zone, "longitude_deg": longitude_deg}, Site)
    return [fault.pointer for fault in site_faults(site)]


# Places and their zones by the IANA time zone database (zone1970.tab); longitudes from memory, to a degree.
@pytest.mark.parametrize(
    ("time_zone", "longitude_deg"),
    [
        ("America/Denver", -105), ("Australia/Sydney", 151), ("Europe/Oslo", 19), ("Europe/Madrid", -9),
        ("Asia/Kolkata", 69), ("Asia/Shanghai", 76), ("Pacific/Kiritimati", -157), ("Pacific/Apia", -172),
        ("Pacific/Auckland", 175), ("Pacific/Chatham", -177), ("America/Adak", -177),
        ("Atlantic/Reykjavik", -22),
    ],
)  # fmt: skip
def test_real_places_agree_with_their_clocks(time_zone: str, longitude_deg: float) -> None:
    assert clock(time_zone, longitude_deg) == []


@pytest.mark.parametrize(("time_zone", "longitude_deg"), [("America/Denver", 105), ("Asia/Kolkata", -77)])
def test_a_longitude_of_the_wrong_sign_is_noticed(time_zone: str, longitude_deg: float) -> None:
    assert clock(time_zone, longitude_deg) == ["/longitude_deg"]


@pytest.mark.parametrize(
    ("name", "mend"),
    [
        ("Europe/Berln", "Did you mean 'Europe/Berlin'"),
        ("Mitteleuropa", "IANA time zone database"),
        ("../../etc/passwd", "IANA time zone database"),
        ("Europe/", "Europe/"),
    ],
)
def test_a_time_zone_that_nobody_knows_is_told_with_the_nearest(name: str, mend: str) -> None:
    (fault,) = site_faults(msgspec.convert({**SITE, "time_zone": name}, Site))
    assert (fault.pointer, fault.code) == ("/time_zone", "UNKNOWN_NAME")
    assert mend in fault.mend


def test_the_nearest_fixtures_are_named() -> None:
    asset = msgspec.convert({**ASSET, "fixture": "board-two-circles"}, Asset)
    (fault,) = asset_faults(asset, set(FIXTURES))
    assert "'board-two-circle'" in fault.mend
    assert list(asset_faults(asset, None)) == []


def test_a_file_may_not_give_an_id_twice() -> None:
    file = {
        **SITE,
        "format": 1,
        "bays": [BAY, BAY],
        "assets": [{k: v for k, v in ASSET.items() if k != "site"}] * 2,
    }
    document = msgspec.convert(file, SiteDocument)
    assert [fault.pointer for fault in document_faults(document, None)] == ["/bays/1/id", "/assets/1/id"]
