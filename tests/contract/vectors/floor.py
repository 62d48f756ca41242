"""Test vectors of floors."""

from math import sqrt
from typing import Any

import numpy as np

from contract.vectors.cases import Case, Json, answered, file_of, refused, rounded
from geometry import floor_otherwise as otherwise

SOLVED = (
    "Planes by numpy's least squares, attitudes by scipy's Rotation, 'ZYX' (ISO 8855), the zone of minimum "
    "height by enumeration of all sets of four points (Helly's theorem)."
)
PLUMB = "By hand: on one sloping plane a height along its normal is longer by sqrt(1 + b^2 + c^2) when plumb."
STATED = "By hand: nothing leans, so heights add up."
SIMULATED = f"{SOLVED} Standard uncertainties by simulation (JCGM 101), 100,000 draws."
TOLERANCE = {"mm": 1e-6, "deg": 1e-9, "m": 1e-6}
PLACES = {
    "front_left": (2810.0, 780.0),
    "front_right": (2810.0, -780.0),
    "rear_left": (0.0, 790.0),
    "rear_right": (0.0, -790.0),
}
TRIPOD = [(5400.0, 500.0), (5400.0, -500.0), (4700.0, 0.0)]
BOARD: Json = {"x_mm": 5100.0, "y_mm": 30.0, "z_mm": 1200.0}


def sent(wheels: Any, feet: Any, target: Json = BOARD, **more: Any) -> Json:
    """Write a request; heights of the wheels in their order, feet as places with heights."""
    contacts = {
        name: {"x_mm": x, "y_mm": y, "z_mm": float(z)}
        for (name, (x, y)), z in zip(PLACES.items(), wheels, strict=True)
    }
    for name, rate in more.pop("rates", {}).items():
        contacts[name]["rate"] = rate
    stand = [{"x_mm": x, "y_mm": y, "z_mm": float(z)} for x, y, z in feet]
    return {"wheels": contacts, "feet": stand, "target": target, **more}


def tripod(*heights: float) -> list[tuple[float, float, float]]:
    return [(x, y, z) for (x, y), z in zip(TRIPOD, heights, strict=True)]


def arrays(request: Json) -> tuple[Any, Any, Any, Any, Any]:
    wheels, feet = [request["wheels"][name] for name in PLACES], request["feet"]
    upwards = -1.0 if request.get("readings") == "staff" else 1.0
    return (
        np.array([(w["x_mm"], w["y_mm"]) for w in wheels]),
        np.array([w.get("rate", 1.0) for w in wheels]),
        np.array([(f["x_mm"], f["y_mm"]) for f in feet]),
        np.array([request["target"][axis] for axis in ("x_mm", "y_mm", "z_mm")]),
        upwards * np.array([point["z_mm"] for point in (*wheels, *feet)]),
    )


def body(figures: Any, flatness: Any, nominal_mm: float, digits: int) -> Json:
    """Return an answer of plain figures."""

    def plain(value: Any) -> float:
        return rounded(value, digits)

    return {
        "vehicle_pitch_deg": plain(figures.vehicle_pitch_deg),
        "vehicle_roll_deg": plain(figures.vehicle_roll_deg),
        "target_in_room": {
            "x_mm": plain(figures.room_x_mm),
            "y_mm": plain(figures.room_y_mm),
            "z_mm": plain(figures.room_z_mm),
        },
        "height_setting_mm": plain(figures.height_setting_mm),
        "height_error_if_ignored_mm": plain(nominal_mm - figures.height_setting_mm),
        "slope_mm_per_m": plain(figures.slope_mm_per_m),
        "warp_mm": plain(figures.warp_mm),
        "flatness_mm": plain(flatness),
        "fixture_tilt": {
            "pitch_deg": plain(figures.tilt_pitch_deg),
            "roll_deg": plain(figures.tilt_roll_deg),
            "angle_deg": plain(figures.tilt_angle_deg),
        },
    }


def solved(name: str, request: Json) -> Case:
    """Return a case with the other road's figures."""
    contacts, rates, feet, target, heights = arrays(request)
    found = otherwise.figures(contacts, rates, feet, target, heights[:, None])
    single = otherwise.Figures(*(figure[0] for figure in found))
    zone = otherwise.flatness(np.vstack([contacts, feet]), heights[:, None])[0]
    return Case(name, SOLVED, request, answered(**body(single, zone, target[2], 10)), TOLERANCE)


def simulated(name: str, request: Json) -> Case:
    """Return a case with the standard uncertainty of each figure that a simulation finds."""
    contacts, rates, feet, target, heights = arrays(request)
    rng = np.random.default_rng(1)
    errors = request["u_z_mm"] * rng.standard_normal((len(heights), 100_000))
    found = otherwise.figures(contacts, rates, feet, target, heights[:, None] + errors)
    u = {
        "vehicle_pitch_deg": found.vehicle_pitch_deg,
        "vehicle_roll_deg": found.vehicle_roll_deg,
        "height_setting_mm": found.height_setting_mm,
        "height_error_if_ignored_mm": found.height_setting_mm,
        "slope_mm_per_m": found.slope_mm_per_m,
        "warp_mm": found.warp_mm,
    }
    spread = {field: rounded(values.std(), 3) for field, values in u.items()}
    return Case(name, SIMULATED, request, answered(u=spread), {"mm": 0.02, "deg": 0.001, "m": 0.01})


def sloping(ahead: float, left: float, lift: float = 0.0) -> tuple[Any, Any]:
    """Return the heights of wheels and feet on one plane."""
    wheels = [lift + ahead * x + left * y for x, y in PLACES.values()]
    return wheels, [(x, y, lift + ahead * x + left * y) for x, y in TRIPOD]


LEVEL = [0.0, 0.0, 0.0, 0.0]
UNEVEN = [14.0, 6.0, -3.0, 1.0]
SOLVED_CASES: dict[str, Json] = {
    "nose up by 5 mm/m before a level stand": sent(sloping(0.005, 0.0)[0], tripod(0.0, 0.0, 0.0)),
    "left side up by 10 mm/m": sent(sloping(0.0, 0.01)[0], tripod(0.0, 0.0, 0.0)),
    "a twisted floor": sent([4.0, -4.0, -4.0, 4.0], tripod(1.0, 0.0, 2.0)),
    "an uneven floor, equal springs": sent(UNEVEN, tripod(11.0, 3.0, 8.0)),
    "an uneven floor, a stiff front axle": sent(
        UNEVEN,
        tripod(11.0, 3.0, 8.0),
        rates={"front_left": 32.0, "front_right": 32.0, "rear_left": 20.0, "rear_right": 20.0},
    ),
    "readings of a staff": sent([-z for z in UNEVEN], tripod(-11.0, -3.0, -8.0), readings="staff"),
    "a lift 850 mm up that leans, the stand on the floor": sent(
        [z + 850.0 for z in sloping(0.002, -0.001)[0]], tripod(1.0, 2.0, 0.0)
    ),
    "four feet that are not in one plane": sent(
        UNEVEN, [(5400.0, 500.0, 2.0), (5400.0, -500.0, 6.0), (4800.0, 500.0, -1.0), (4800.0, -500.0, -5.0)]
    ),
    "a mat's corner far behind and to the right": sent(
        UNEVEN,
        [(-3000.0, -2000.0, 9.0), (-3000.0, -1200.0, 4.0), (-3800.0, -1600.0, 12.0)],
        {"x_mm": -3300.0, "y_mm": -1600.0, "z_mm": 0.0},
    ),
}
GOOD = sent(UNEVEN, tripod(11.0, 3.0, 8.0))
BAD = "INVALID_VALUE"


def spoiled(wheel: str, **fields: float) -> Json:
    return GOOD | {"wheels": GOOD["wheels"] | {wheel: GOOD["wheels"][wheel] | fields}}


def _refusals() -> dict[str, tuple[Json, Json]]:
    three = {name: contact for name, contact in GOOD["wheels"].items() if name != "rear_left"}
    steep = sent([900.0, 900.0, 0.0, 0.0], tripod(0.0, 0.0, 0.0))
    twice = GOOD | {"feet": GOOD["feet"] + GOOD["feet"][:1]}
    missing = refused(BAD, "/wheels/rear_left", "MISSING_FIELD")
    on_another = spoiled("front_right", x_mm=2810.0, y_mm=780.0)
    behind = spoiled("front_left", x_mm=-2810.0)
    rate = "/wheels/rear_left/rate"
    far = spoiled("rear_left", z_mm=2e6)
    return {
        "three wheels": (GOOD | {"wheels": three}, missing),
        "a wheel that stands where another does": (on_another, refused(BAD, "/wheels/front_left/y_mm")),
        "a front wheel behind the rear one": (behind, refused(BAD, "/wheels/front_left/x_mm")),
        "a negative wheel rate": (spoiled("rear_left", rate=-1.0), refused(BAD, rate)),
        "a rate in another unit": (spoiled("rear_left", rate=30000.0), refused(BAD, "/wheels")),
        "no foot": (GOOD | {"feet": []}, refused(BAD, "/feet")),
        "a foot given twice": (twice, refused(BAD, "/feet/3")),
        "a slope that no floor has": (steep, refused(BAD, "/wheels")),
        "feet on a step": (sent(UNEVEN, tripod(0.0, 0.0, 300.0)), refused(BAD, "/feet")),
        "a height beyond a kilometre": (far, refused(BAD, "/wheels/rear_left/z_mm")),
    }


def file() -> Json:
    """Return the file of vectors."""
    wheels, feet = sloping(0.012, -0.016, 40.0)
    plumb_mm = rounded(1200.0 * sqrt(1 + 0.012**2 + 0.016**2), 9)
    two = [(5100.0, 500.0, 4.0), (5100.0, -500.0, 0.0)]
    cases = [
        Case(
            "one sloping plane under everything",
            PLUMB,
            sent(wheels, feet),
            answered(height_setting_mm=plumb_mm, slope_mm_per_m=20.0, warp_mm=0.0, flatness_mm=0.0),
            TOLERANCE,
        ),
        Case(
            "two feet count as level across",
            STATED,
            sent(LEVEL, two, BOARD | {"y_mm": 250.0, "x_mm": 5400.0}),
            answered(height_setting_mm=1197.0, height_error_if_ignored_mm=3.0, fixture_tilt=None),
            TOLERANCE,
        ),
        Case(
            "one foot counts as level",
            STATED,
            sent(LEVEL, two[:1], BOARD | {"x_mm": 9000.0}),
            answered(height_setting_mm=1196.0, height_error_if_ignored_mm=4.0, fixture_tilt=None),
            TOLERANCE,
        ),
        *(solved(name, request) for name, request in SOLVED_CASES.items()),
        simulated("uncertainty of an uneven floor", sent(UNEVEN, tripod(11.0, 3.0, 8.0), u_z_mm=0.5)),
    ]
    contract = "The API's contract."
    cases += [Case(name, contract, request, expect) for name, (request, expect) in _refusals().items()]
    return file_of(
        "POST /v1/geometry/floor",
        "A target's height corrected for the floor under the vehicle and the fixture.",
        SOLVED,
        cases,
    )
