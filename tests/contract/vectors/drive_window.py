"""Test vectors of drive windows."""

from typing import Any

from contract.vectors.cases import Case, Json, answered, file_of, refused
from planning import spa

USNO = "U.S. Naval Observatory's tables, to the minute, as printed in pvlib's tests."
NREL = "NREL's Solar Position Algorithm calculator, as printed in pvlib's tests."
ASTRAL = "astral's tests: Tromsø has no sunset on this day."
SWEPT = "pvlib's Solar Position Algorithm (Reda & Andreas, NREL/TP-560-34302) swept over the local day."
IANA = "The rules of the IANA time zone database."
TOLERANCE = {"s": 60}
GOLDEN, BERLIN = (39.742476, -105.1786), (52.1, 11.6)
RISE_AND_SET_DEG = -0.833


def sent(place: tuple[float, float], zone: str, date: str, least: float, **dazzle: float) -> Json:
    latitude, longitude = place
    request: Json = {"latitude_deg": latitude, "longitude_deg": longitude, "time_zone": zone, "date": date}
    return request | {"min_sun_elevation_deg": least} | dazzle


def blinding(heading: float, cone: float, greatest: float) -> Json:
    return {
        "road_heading_deg": heading,
        "dazzle_cone_deg": cone,
        "dazzle_max_elevation_deg": greatest,
    }


def printed(source: str, request: Json, *windows: tuple[str, str]) -> Case:
    """Return a case whose windows are given."""
    found = [{"start": start, "end": end} for start, end in windows]
    name = f"{request['date']} at {request['latitude_deg']:g}, {request['longitude_deg']:g}"
    return Case(name, source, request, answered(windows=found), TOLERANCE)


def swept(name: str, request: Json) -> Case:
    """Return a case with the windows of the other algorithm, to the second."""
    dazzle = tuple(request[field] for field in blinding(0, 0, 0) if field in request)
    found = spa.windows(
        request["latitude_deg"],
        request["longitude_deg"],
        request["time_zone"],
        request["date"],
        min_elevation_deg=request["min_sun_elevation_deg"],
        dazzle=(dazzle[0], dazzle[1], dazzle[2]) if dazzle else None,
    )
    windows = [{"start": s.round("s").isoformat(), "end": e.round("s").isoformat()} for s, e in found]
    return Case(name, SWEPT, request, answered(windows=windows), TOLERANCE)


def usno(place: tuple[float, float], zone: str, offset: str, date: str, clocks: str) -> Case:
    rise, _, set_ = clocks.partition(" ")
    window = (f"{date}T{rise}:00{offset}", f"{date}T{set_}:00{offset}")
    return printed(USNO, sent(place, zone, date, RISE_AND_SET_DEG), window)


SPRING = sent(BERLIN, "Europe/Berlin", "2027-03-28", 5.0)
SWEPT_CASES: dict[str, Json] = {
    "the local day in Golden, where the sunset of the UTC day is another": sent(
        GOLDEN, "America/Denver", "2015-08-02", RISE_AND_SET_DEG
    ),
    "the day on which clocks go forward": SPRING,
    "the day on which clocks go back": sent(BERLIN, "Europe/Berlin", "2027-10-31", -6.0),
    "driving into the morning sun": SPRING | blinding(100.0, 30.0, 25.0),
    "driving into the evening sun": SPRING | blinding(262.0, 15.0, 12.0),
    "driving south in winter": sent(BERLIN, "Europe/Berlin", "2026-12-21", 0.0) | blinding(180.0, 20.0, 40.0),
    "a heading alone does not dazzle north of a midday sun": SPRING | blinding(0.0, 30.0, 60.0),
    "the sun in the north, in Adelaide": sent((-34.93, 138.6), "Australia/Adelaide", "2026-06-21", 3.0)
    | blinding(0.0, 35.0, 45.0),
    "a sun that sets after midnight": sent((66.2, 25.0), "Europe/Helsinki", "2026-06-08", RISE_AND_SET_DEG),
    "a zone of quarter hours": sent((27.7, 85.3), "Asia/Kathmandu", "2026-09-10", 10.0)
    | blinding(-90.0, 25.0, 30.0),
}
BAD = "INVALID_VALUE"
REFUSED: dict[str, tuple[Json, Json]] = {
    "a zone that the database does not have": (
        SPRING | {"time_zone": "Europe/Berlinn"},
        refused("UNKNOWN_NAME", "/time_zone"),
    ),
    "a latitude beyond the pole": (SPRING | {"latitude_deg": 90.5}, refused(BAD, "/latitude_deg")),
    "a longitude beyond the date line": (SPRING | {"longitude_deg": 181.0}, refused(BAD, "/longitude_deg")),
    "a negative cone": (SPRING | blinding(90.0, -1.0, 20.0), refused(BAD, "/dazzle_cone_deg")),
    "a heading without its cone": (
        SPRING | {"road_heading_deg": 90.0, "dazzle_max_elevation_deg": 20.0},
        refused(BAD, "/dazzle_cone_deg"),
    ),
    "a day long before the formulas hold": (SPRING | {"date": "1879-03-28"}, refused(BAD, "/date")),
    "a day that a zone never had": (
        SPRING | {"time_zone": "Pacific/Apia", "date": "2011-12-30"},
        refused(BAD, "/date"),
    ),
}


def file() -> Json:
    """Return the file of vectors."""
    cases: list[Any] = [
        usno(GOLDEN, "America/Phoenix", "-07:00", "2015-01-01", "07:22 16:47"),
        usno(GOLDEN, "America/Phoenix", "-07:00", "2015-08-02", "05:00 19:13"),
        usno((39.0, -105.0), "Etc/GMT+7", "-07:00", "2015-04-02", "05:43 18:24"),
        usno((39.0, -105.0), "Etc/GMT+7", "-07:00", "2015-12-02", "07:01 16:38"),
        usno((39.917, 116.383), "Asia/Shanghai", "+08:00", "2015-04-02", "05:58 18:39"),
        usno((39.917, 116.383), "Asia/Shanghai", "+08:00", "2015-12-02", "07:17 16:50"),
        printed(
            NREL,
            sent((-35.0, 0.0), "UTC", "2004-12-04", RISE_AND_SET_DEG),
            ("2004-12-04T04:38:57+00:00", "2004-12-04T19:02:03+00:00"),
        ),
        printed(
            ASTRAL,
            sent((69.6, 18.95), "Europe/Oslo", "2019-06-05", RISE_AND_SET_DEG),
            ("2019-06-05T00:00:00+02:00", "2019-06-06T00:00:00+02:00"),
        ),
        printed(SWEPT, sent((69.6, 18.95), "Europe/Oslo", "2019-12-21", RISE_AND_SET_DEG)),
        printed(
            IANA,
            sent((0.0, 0.0), "America/Havana", "2024-11-03", -90.0),
            ("2024-11-03T00:00:00-04:00", "2024-11-04T00:00:00-05:00"),
        ),
    ]
    cases += [swept(name, request) for name, request in SWEPT_CASES.items()]
    cases += [Case(name, "The API's contract.", s, expect) for name, (s, expect) in REFUSED.items()]
    return file_of(
        "POST /v1/geometry/drive-window",
        "When the sun lets a car be driven on a local day. A time may differ by the tolerance's seconds; its "
        "offset may not.",
        f"{USNO} {NREL} {SWEPT}",
        cases,
    )
