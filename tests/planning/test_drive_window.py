"""Drive windows against published sun tables and against another algorithm."""

from datetime import UTC, date, datetime, timedelta, timezone
from itertools import pairwise
from math import inf, nan
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planning import spa
from snapline_service.errors import InvalidValue, UnknownName
from snapline_service.planning.drive_window import Dazzle, Window, daylight_windows

GOLDEN = (39.742476, -105.1786)
MST, CST = "Etc/GMT+7", "Asia/Shanghai"  # without summer time, as the tables are
RISE_AND_SET_DEG = -0.833  # 34' of refraction and 16' of radius
MINUTE = timedelta(seconds=60)


def windows(
    place: tuple[float, float], zone: str, day: str, least_deg: float = RISE_AND_SET_DEG, **dazzle: float
) -> tuple[Window, ...]:
    return daylight_windows(
        *place,
        zone,
        date.fromisoformat(day),
        min_sun_elevation_deg=least_deg,
        dazzle=Dazzle(**dazzle) if dazzle else None,
    )


def at(day: str, clock: str, offset_h: float) -> datetime:
    return datetime.fromisoformat(f"{day}T{clock}").replace(tzinfo=timezone(timedelta(hours=offset_h)))


# USNO tables and the NREL SPA calculator, as printed in pvlib's tests; USNO prints whole minutes.
@pytest.mark.parametrize(
    ("place", "zone", "offset_h", "day", "rise", "set_"),
    [
        (GOLDEN, MST, -7, "2015-01-01", "07:22", "16:47"),
        (GOLDEN, MST, -7, "2015-08-02", "05:00", "19:13"),
        ((39, -105), MST, -7, "2015-04-02", "05:43", "18:24"),
        ((39, -105), MST, -7, "2015-12-02", "07:01", "16:38"),
        ((39.917, 116.383), CST, 8, "2015-04-02", "05:58", "18:39"),
        ((39.917, 116.383), CST, 8, "2015-12-02", "07:17", "16:50"),
        ((-35, 0), "UTC", 0, "2004-12-04", "04:38:57", "19:02:03"),
        # Printed sunset of this day is the evening before: that calculator works on the UTC day. On the
        # local day the sun passes -0.833 degrees at 19:12:53.
        (GOLDEN, MST, -7, "2015-08-02", "05:00:27", "19:12:53"),
    ],
)
def test_sunrise_and_sunset_of_the_tables(
    *, place: tuple[float, float], zone: str, offset_h: float, day: str, rise: str, set_: str
) -> None:
    (window,) = windows(place, zone, day)
    assert abs(window.start - at(day, rise, offset_h)) <= MINUTE
    assert abs(window.end - at(day, set_, offset_h)) <= MINUTE
    assert window.start.utcoffset() == window.end.utcoffset() == timedelta(hours=offset_h)


def test_the_worked_example_of_the_solar_position_algorithm() -> None:
    """Reda & Andreas, NREL/TP-560-34302: at 12:30:30 elevation 39.872046, azimuth 194.340241."""
    moment = at("2003-10-17", "12:30:30", -7)
    (window,) = windows(GOLDEN, MST, "2003-10-17", 39.872046)
    assert abs(window.end - moment) <= timedelta(seconds=2)
    # From a road straight below it the sun is off by its elevation, which then shrinks: dazzle begins.
    beside = windows(
        GOLDEN,
        MST,
        "2003-10-17",
        30,
        road_heading_deg=194.340241,
        cone_deg=39.872046,
        max_elevation_deg=90,
    )
    assert min(abs(one.end - moment) for one in beside) <= timedelta(seconds=2)


def test_polar_day_is_one_whole_day_and_polar_night_has_no_window() -> None:
    # Tromsø, astral's own tests: no sunrise and no sunset on 5 June 2019. The night: common knowledge.
    tromso = (69.6, 18.95)
    (window,) = windows(tromso, "Europe/Oslo", "2019-06-05")
    assert window.start.isoformat() == "2019-06-05T00:00:00+02:00"
    assert window.end.isoformat() == "2019-06-06T00:00:00+02:00"
    assert windows(tromso, "Europe/Oslo", "2019-12-21") == ()


# The rules of the IANA database: clocks change within these days, in Cairo and Havana at midnight itself.
@pytest.mark.parametrize(
    ("zone", "day", "start", "end", "hours"),
    [
        ("Europe/Berlin", "2027-03-28", "2027-03-28T00:00:00+01:00", "2027-03-29T00:00:00+02:00", 23),
        ("Europe/Berlin", "2027-10-31", "2027-10-31T00:00:00+02:00", "2027-11-01T00:00:00+01:00", 25),
        ("America/Denver", "2026-11-01", "2026-11-01T00:00:00-06:00", "2026-11-02T00:00:00-07:00", 25),
        (
            "Australia/Lord_Howe",
            "2026-04-05",
            "2026-04-05T00:00:00+11:00",
            "2026-04-06T00:00:00+10:30",
            24.5,
        ),
        ("Asia/Kathmandu", "2026-04-05", "2026-04-05T00:00:00+05:45", "2026-04-06T00:00:00+05:45", 24),
        ("Africa/Cairo", "2024-04-26", "2024-04-26T01:00:00+03:00", "2024-04-27T00:00:00+03:00", 23),
        ("America/Havana", "2024-11-03", "2024-11-03T00:00:00-04:00", "2024-11-04T00:00:00-05:00", 25),
    ],
)
def test_a_day_is_as_long_as_its_zone_makes_it(
    zone: str, day: str, start: str, end: str, hours: float
) -> None:
    (window,) = windows((0, 0), zone, day, -90)
    assert (window.start.isoformat(), window.end.isoformat()) == (start, end)
    assert window.end.astimezone(UTC) - window.start.astimezone(UTC) == timedelta(hours=hours)


def test_times_after_the_clocks_changed_carry_the_new_offset() -> None:
    (window,) = windows((52.1, 11.6), "Europe/Berlin", "2027-10-31")
    assert window.start.utcoffset() == window.end.utcoffset() == timedelta(hours=1)
    (window,) = windows((70, 25), "Europe/Berlin", "2026-03-29", -20)
    assert (window.start.utcoffset(), window.end.utcoffset()) == (timedelta(hours=1), timedelta(hours=2))


places = st.tuples(st.floats(-80, 80), st.floats(-180, 180))
zones = st.sampled_from(["Europe/Berlin", "America/Denver", "Australia/Adelaide", "Asia/Kathmandu", "UTC"])
days = st.dates(date(1990, 1, 1), date(2050, 12, 31)).map(date.isoformat)
dazzles: st.SearchStrategy[dict[str, float]] = st.builds(
    dict,
    road_heading_deg=st.floats(0, 360),
    cone_deg=st.floats(0, 60),
    max_elevation_deg=st.floats(0, 40),
)


@settings(max_examples=60, derandomize=True, deadline=None)
@given(places, zones, days, st.sampled_from([RISE_AND_SET_DEG, 0.0, 3.0, 10.0]), st.none() | dazzles)
def test_windows_are_those_of_another_algorithm(
    place: tuple[float, float], zone: str, day: str, least_deg: float, dazzle: dict[str, float] | None
) -> None:
    """pvlib's SPA, swept; where a window is shorter than two minutes the two may not both see it."""
    blinding = (
        (dazzle["road_heading_deg"], dazzle["cone_deg"], dazzle["max_elevation_deg"]) if dazzle else None
    )
    other = spa.windows(*place, zone, day, min_elevation_deg=least_deg, dazzle=blinding)
    ours = windows(place, zone, day, least_deg, **(dazzle or {}))
    lasting = [w for w in ours if w.end - w.start > 2 * MINUTE]
    assert len(lasting) == len([1 for start, end in other if end - start > 2 * MINUTE])
    for window in lasting:
        assert min(abs(window.start - start) for start, _ in other) <= MINUTE
        assert min(abs(window.end - end) for _, end in other) <= MINUTE


@settings(max_examples=60, derandomize=True, deadline=None)
@given(places, zones, days, st.floats(-10, 30), dazzles)
def test_windows_follow_one_another_inside_the_day_and_dazzle_only_takes_away(
    place: tuple[float, float], zone: str, day: str, least_deg: float, dazzle: dict[str, float]
) -> None:
    found = windows(place, zone, day, least_deg, **dazzle)
    without = windows(place, zone, day, least_deg)
    (whole,) = windows(place, zone, day, -90)
    for window in found:
        assert whole.start <= window.start < window.end <= whole.end
        assert any(one.start <= window.start and window.end <= one.end for one in without)
    assert all(a.end < b.start for a, b in pairwise(found))


def test_a_window_shorter_than_any_sampling_is_found() -> None:
    # Nearly overhead the sun passes its highest point quickly.
    tropics = (20.0, 0.0)
    times = spa.instants("UTC", "2026-06-01")
    elevation, _ = spa.sun(times, *tropics)
    noon = int(elevation.argmax())
    (window,) = windows(tropics, "UTC", "2026-06-01", float(elevation[noon]) - 0.005)
    assert window.start < times[noon] < window.end
    assert window.end - window.start < 5 * MINUTE
    assert windows(tropics, "UTC", "2026-06-01", float(elevation[noon]) + 0.005) == ()
    # A sun that meets the road's end for a minute interrupts the day for that minute.
    times = spa.instants("Europe/Berlin", "2026-02-10")
    elevation, azimuth = spa.sun(times, 52.1, 11.6)
    low = int((elevation > 0.1).argmax())
    before, after = windows(
        (52.1, 11.6),
        "Europe/Berlin",
        "2026-02-10",
        road_heading_deg=float(azimuth[low]),
        cone_deg=0.2,
        max_elevation_deg=20,
    )
    assert before.end < times[low] < after.start
    assert after.start - before.end < 4 * MINUTE


def test_a_sun_above_the_greatest_elevation_or_outside_the_cone_never_dazzles() -> None:
    plain = windows((52.1, 11.6), "Europe/Berlin", "2026-06-21")
    for dazzle in (
        {"road_heading_deg": 90, "cone_deg": 0, "max_elevation_deg": 90},
        {"road_heading_deg": 90, "cone_deg": 180, "max_elevation_deg": -5},
        {"road_heading_deg": 0, "cone_deg": 30, "max_elevation_deg": 90},  # northwards at midsummer
    ):
        assert windows((52.1, 11.6), "Europe/Berlin", "2026-06-21", **dazzle) == plain
    # Anywhere on the sky it dazzles below 20 degrees: what is left is the day above 20 degrees.
    assert windows(
        (52.1, 11.6), "Europe/Berlin", "2026-06-21", road_heading_deg=0, cone_deg=180, max_elevation_deg=20
    ) == windows((52.1, 11.6), "Europe/Berlin", "2026-06-21", 20)


def test_east_in_the_morning_and_west_in_the_evening() -> None:
    eastwards, westwards = (
        windows((0, 0), "UTC", "2026-03-20", 0, road_heading_deg=heading, cone_deg=30, max_elevation_deg=90)
        for heading in (90, 270)
    )
    # At the equator at equinox the sun climbs 15 degrees an hour due east: two hours within 30 degrees.
    (morning,), (evening,) = eastwards, westwards
    assert abs(morning.start - at("2026-03-20", "08:07:30", 0)) <= MINUTE
    assert abs(evening.end - at("2026-03-20", "16:07:30", 0)) <= MINUTE


GOOD: dict[str, Any] = {
    "latitude_deg": 52.1,
    "longitude_deg": 11.6,
    "time_zone": "Europe/Berlin",
    "day": date(2026, 3, 1),
    "min_sun_elevation_deg": 0.0,
}


@pytest.mark.parametrize(
    ("changes", "pointer"),
    [
        ({"latitude_deg": 90.1}, "/latitude_deg"),
        ({"latitude_deg": nan}, "/latitude_deg"),
        ({"longitude_deg": -181.0}, "/longitude_deg"),
        ({"min_sun_elevation_deg": inf}, "/min_sun_elevation_deg"),
        ({"day": date(1979, 12, 31)}, "/date"),
        ({"day": date(2100, 1, 1)}, "/date"),
        ({"dazzle": Dazzle(361, 20, 20)}, "/road_heading_deg"),
        ({"dazzle": Dazzle(90, -1, 20)}, "/dazzle_cone_deg"),
        ({"dazzle": Dazzle(90, 20, 91)}, "/dazzle_max_elevation_deg"),
        # Samoa went from 29 to 31 December 2011 (IANA database).
        ({"time_zone": "Pacific/Apia", "day": date(2011, 12, 30)}, "/date"),
    ],
)
def test_what_cannot_be_is_refused(changes: dict[str, Any], pointer: str) -> None:
    with pytest.raises(InvalidValue) as refused:
        daylight_windows(**{**GOOD, **changes})
    assert refused.value.pointer == pointer
    assert refused.value.mend


@pytest.mark.parametrize(
    "name", ["Europe/Berlinn", "", "Europe", "../etc/passwd", "right/UTC", "CEST", "localtime", "\0"]
)
def test_a_zone_that_the_database_does_not_have_is_refused(name: str) -> None:
    with pytest.raises(UnknownName) as refused:
        daylight_windows(**{**GOOD, "time_zone": name})
    assert refused.value.pointer == "/time_zone"
    assert "Europe/Berlin" in refused.value.mend
