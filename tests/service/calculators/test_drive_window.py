"""POST /v1/geometry/drive-window."""

from collections.abc import Callable
from typing import Any

import httpx
import pytest

Calculate = Callable[[str, dict[str, Any]], dict[str, Any]]
TROMSO = {
    "latitude_deg": 69.6,
    "longitude_deg": 18.95,
    "time_zone": "Europe/Oslo",
    "date": "2019-06-05",
    "min_sun_elevation_deg": -0.833,
}
NO_ROAD = {"road_heading_deg": None, "dazzle_cone_deg": 20, "dazzle_max_elevation_deg": 30}


def test_a_day_without_sunset_is_one_window_between_its_midnights(calculate: Calculate) -> None:
    # astral's own tests: no sunset at Tromsø on 5 June 2019.
    answer = {"windows": [{"start": "2019-06-05T00:00:00+02:00", "end": "2019-06-06T00:00:00+02:00"}]}
    assert calculate("drive-window", TROMSO) == answer
    assert calculate("drive-window", TROMSO | NO_ROAD) == answer
    assert calculate("drive-window", TROMSO | {"date": "2019-12-21"}) == {"windows": []}


def test_a_midnight_sun_dazzles_northwards(calculate: Calculate) -> None:
    north = {"road_heading_deg": 0, "dazzle_cone_deg": 30, "dazzle_max_elevation_deg": 90}
    (window,) = calculate("drive-window", TROMSO | north)["windows"]
    assert window["start"] > "2019-06-05T02:00:00+02:00"
    assert window["end"] < "2019-06-05T23:59:00+02:00"


@pytest.mark.parametrize(
    ("changes", "pointer", "code"),
    [
        ({"time_zone": "Europe/Olso"}, "/time_zone", "UNKNOWN_NAME"),
        ({"time_zone": ""}, "/time_zone", "INVALID_VALUE"),
        ({"date": "2019-02-29"}, "/date", "INVALID_VALUE"),
        ({"date": "2019-13-01"}, "/date", "INVALID_VALUE"),
        ({"date": "0001-01-01"}, "/date", "INVALID_VALUE"),
        ({"date": "05/06/2019"}, "/date", "INVALID_VALUE"),
        ({"latitude_deg": 90.01}, "/latitude_deg", "INVALID_VALUE"),
        ({"longitude_deg": -180.5}, "/longitude_deg", "INVALID_VALUE"),
        ({"min_sun_elevation_deg": 91}, "/min_sun_elevation_deg", "INVALID_VALUE"),
        ({"dazzle_cone_deg": -1}, "/dazzle_cone_deg", "INVALID_VALUE"),
        ({"road_heading_deg": 361}, "/road_heading_deg", "INVALID_VALUE"),
        ({"road_heading_deg": 90, "dazzle_cone_deg": 20}, "/dazzle_max_elevation_deg", "INVALID_VALUE"),
        ({"road_heading_deg": 90, "dazzle_max_elevation_deg": 20}, "/dazzle_cone_deg", "INVALID_VALUE"),
        ({"country": "NO"}, "/country", "UNKNOWN_FIELD"),
    ],
)
def test_what_cannot_be_is_a_problem_with_its_mend(
    http: httpx.Client, changes: dict[str, Any], pointer: str, code: str
) -> None:
    answer = http.post("/v1/geometry/drive-window", json=TROMSO | changes)
    assert answer.status_code == 422
    faults = answer.json()["errors"]
    assert {(fault["pointer"], fault["code"]) for fault in faults} == {(pointer, code)}
    assert all(fault["mend"] for fault in faults)
