"""When the sun lets a car be driven for a calibration: daylight of a local day, minus dazzle.

The sun's place is astral's, which follows the NOAA solar calculator (Meeus, Astronomical Algorithms): the
centre of the disc, without refraction. Azimuth and road heading count clockwise from north.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from difflib import get_close_matches
from functools import cache
from itertools import pairwise
from math import acos, ceil, cos, degrees, isfinite, radians
from zoneinfo import ZoneInfo, available_timezones

import scipy
from astral import Observer
from astral.sun import zenith_and_azimuth

from snapline_service.errors import InvalidValue, UnknownName

FIRST_YEAR, LAST_YEAR = 1980, 2099  # zones then have whole-minute offsets, and the formulas still hold
_STEP_S = 300.0
# The sun moves 1.25 degrees on the sky in a step, so a turning point this far from zero cannot reach it.
_REACH_DEG = 2.0

Margin = Callable[[float], float]
Sample = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Dazzle:
    """When the sun blinds a driver: near the level direction of the road, and low.

    Both must hold: the angle in space from the heading is below the cone, the elevation below the maximum.
    """

    road_heading_deg: float
    cone_deg: float
    max_elevation_deg: float


@dataclass(frozen=True, slots=True)
class Window:
    """A stretch of time in whole seconds, in the zone that it was asked for."""

    start: datetime
    end: datetime


def daylight_windows(
    latitude_deg: float,
    longitude_deg: float,
    time_zone: str,
    day: date,
    *,
    min_sun_elevation_deg: float,
    dazzle: Dazzle | None = None,
) -> tuple[Window, ...]:
    """Return the windows of a local day in which the sun is high enough and does not dazzle.

    Latitude is positive north, longitude positive east; within 0.2 degrees of a pole astral computes for
    89.8 degrees. The day runs from local midnight to the next one, 23 to 25 hours. A day of endless sun is
    one window, a day without sun none. Raises UnknownName for a zone, InvalidValue for what cannot be.
    """
    _require_possible(latitude_deg, longitude_deg, min_sun_elevation_deg, dazzle)
    zone = _zone(time_zone)
    start, length_s = _local_day(day, zone)
    margins = _margins(Observer(latitude_deg, longitude_deg), start, min_sun_elevation_deg, dazzle)
    # One step more at either end, so that a turning point just inside the day lies between samples.
    grid = [_STEP_S * step for step in range(-1, ceil(length_s / _STEP_S) + 2)]
    zeros = {cut for margin in margins for cut in _zeros(margin, grid) if 0.0 < cut < length_s}
    cuts = sorted({0.0, length_s, *zeros})
    daylight, *spared = margins

    def may_drive(at_s: float) -> bool:
        return daylight(at_s) >= 0.0 and (not spared or any(margin(at_s) >= 0.0 for margin in spared))

    good = [(a, b) for a, b in pairwise(cuts) if may_drive((a + b) / 2.0)]
    return tuple(_windows(_merged(good), start, zone))


def _margins(
    observer: Observer, start: datetime, min_elevation_deg: float, dazzle: Dazzle | None
) -> list[Margin]:
    """Return functions of the second of the day: spare elevation, and either of which spares the driver."""

    @cache
    def sun(at_s: float) -> tuple[float, float]:
        return zenith_and_azimuth(observer, start + timedelta(seconds=at_s), with_refraction=False)

    margins: list[Margin] = [lambda at_s: 90.0 - sun(at_s)[0] - min_elevation_deg]
    if dazzle is not None:

        def off_the_road(at_s: float) -> float:
            zenith_deg, azimuth_deg = sun(at_s)
            level = cos(radians(90.0 - zenith_deg))
            along = level * cos(radians(azimuth_deg - dazzle.road_heading_deg))
            return degrees(acos(max(-1.0, min(1.0, along)))) - dazzle.cone_deg

        margins += [lambda at_s: 90.0 - sun(at_s)[0] - dazzle.max_elevation_deg, off_the_road]
    return margins


def _zeros(margin: Margin, grid: list[float]) -> Iterator[float]:
    """Yield where a margin changes sign, the short excursions between two samples included."""
    samples = [(at_s, margin(at_s)) for at_s in grid]
    samples = sorted([*samples, *_hidden_turns(margin, samples)])
    for (a, before), (b, after) in pairwise(samples):
        if (before >= 0.0) != (after >= 0.0):
            yield float(scipy.optimize.brentq(margin, a, b, xtol=0.05))


def _hidden_turns(margin: Margin, samples: list[Sample]) -> Iterator[Sample]:
    """Yield the turning points at which a margin may reach zero without any sample showing it."""
    for (a, before), (_, here), (b, after) in zip(samples, samples[1:], samples[2:], strict=False):
        sense = 1.0 if here >= 0.0 else -1.0
        if abs(here) < _REACH_DEG and sense * here <= sense * before and sense * here <= sense * after:
            found = scipy.optimize.minimize_scalar(
                lambda at_s, sense=sense: sense * margin(at_s),
                bounds=(a, b),
                method="bounded",
                options={"xatol": 0.5},
            )
            yield float(found.x), sense * float(found.fun)


def _merged(stretches: Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
    merged: list[tuple[float, float]] = []
    for a, b in stretches:
        if merged and merged[-1][1] == a:
            merged[-1] = (merged[-1][0], b)
        else:
            merged.append((a, b))
    return merged


def _windows(stretches: list[tuple[float, float]], start: datetime, zone: ZoneInfo) -> Iterator[Window]:
    for a, b in stretches:
        first_s, last_s = round(a), round(b)
        if first_s < last_s:
            ends = [(start + timedelta(seconds=at_s)).astimezone(zone) for at_s in (first_s, last_s)]
            yield Window(*ends)


def _local_day(day: date, zone: ZoneInfo) -> tuple[datetime, float]:
    """Return when a local day begins, in UTC, and how many seconds it has."""
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise InvalidValue(
            f"The sun is not computed for the year {day.year}.",
            pointer="/date",
            mend=f"Give a day from {FIRST_YEAR} to {LAST_YEAR}.",
        )
    start, end = (
        datetime.combine(one, time(), zone).astimezone(UTC) for one in (day, day + timedelta(days=1))
    )
    if start >= end:
        detail = f"{zone.key} had no {day}: its clocks were put forward by a whole day."
        raise InvalidValue(detail, pointer="/date", mend="Give the day before or after.")
    return start, (end - start).total_seconds()


def _zone(name: str) -> ZoneInfo:
    known = _zone_names()
    if name not in known:
        near = get_close_matches(name, sorted(one for one in known if "/" in one), n=1)
        advice = f"Did you mean '{near[0]}'? " if near else ""
        detail = f"'{name}' is no time zone of the IANA database."
        raise UnknownName(detail, pointer="/time_zone", mend=f"{advice}Give one such as 'Europe/Berlin'.")
    return ZoneInfo(name)


@cache
def _zone_names() -> frozenset[str]:
    # These three are no places: they mean what the machine is set to, or nothing.
    return frozenset(available_timezones() - {"localtime", "posixrules", "Factory"})


def _require_possible(
    latitude_deg: float, longitude_deg: float, min_sun_elevation_deg: float, dazzle: Dazzle | None
) -> None:
    _require(latitude_deg, "/latitude_deg", -90.0, 90.0)
    _require(longitude_deg, "/longitude_deg", -180.0, 180.0)
    _require(min_sun_elevation_deg, "/min_sun_elevation_deg", -90.0, 90.0)
    if dazzle is not None:
        _require(dazzle.road_heading_deg, "/road_heading_deg", -360.0, 360.0)
        _require(dazzle.cone_deg, "/dazzle_cone_deg", 0.0, 180.0)
        _require(dazzle.max_elevation_deg, "/dazzle_max_elevation_deg", -90.0, 90.0)


def _require(value_deg: float, pointer: str, least: float, greatest: float) -> None:
    if not (isfinite(value_deg) and least <= value_deg <= greatest):
        raise InvalidValue(
            f"{pointer} is {value_deg:g}.",
            pointer=pointer,
            mend=f"Give an angle from {least:g} to {greatest:g}, in degrees.",
        )
