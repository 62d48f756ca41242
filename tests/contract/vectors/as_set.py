"""Test vectors of the as-set check, solved without the service's formulas.

Total least squares by scipy with the marks as unknowns of their own, each observed at its stated place.
The test of a distance is its bias as a further unknown: estimate over standard deviation.
"""

from math import atan2, cos, degrees, hypot, isfinite, radians, sin, tan
from typing import Any, NamedTuple

import numpy as np
from scipy.optimize import least_squares
from scipy.stats import chi2, multivariate_normal, norm

from contract.vectors.cases import Case, Json, answered, file_of, refused, rounded

SOURCE = (
    "Total least squares with the marks as unknowns (scipy.optimize.least_squares); chi-squared and normal "
    "distributions of scipy.stats; w as estimate over standard deviation of one distance's bias; verdicts by "
    "JCGM 106:2012 with a guard band of z(1 - alpha) u."
)
TOLERANCE = {"mm": 0.02, "deg": 0.001, "value": 0.02, "critical": 1e-6, "w": 0.02, "probability": 0.002}
MDB_TOLERANCE = TOLERANCE | {"mm": 0.05}
AXES = ("x_mm", "y_mm", "yaw_deg")


class Fit(NamedTuple):
    """What total least squares finds: parameters, their covariance, and the sum of squares."""

    at: Any
    covariance: Any
    sum_of_squares: float
    fixed: bool


def fit(request: Json, biased: int | None = None) -> Fit:
    """Return x, y [mm], yaw [degrees], the marks, and the bias of one distance if it is asked for."""
    names = list(request["marks"])
    marks = np.array([[m["x_mm"], m["y_mm"]] for m in request["marks"].values()])
    u_marks = np.array([[m["u_mm"]] * 2 for m in request["marks"].values()])
    observed = request["observations"]
    feet = np.array([[f["x_mm"], f["y_mm"]] for f in request["feet"]])
    at_foot = feet[[one["foot"] for one in observed]]
    at_mark = [names.index(one["mark"]) for one in observed]
    measured = np.array([one["distance_mm"] for one in observed])
    u_tape = np.array([one["u_mm"] for one in observed])
    used = sorted(set(at_mark))

    def misfits(unknown: Any) -> Any:
        x, y, yaw = unknown[:3]
        places = marks.copy()
        places[used] = unknown[3 : 3 + 2 * len(used)].reshape(-1, 2)
        shift = np.zeros(len(measured))
        if biased is not None:
            shift[biased] = unknown[-1]
        turned = at_foot @ np.array(
            [[cos(radians(yaw)), sin(radians(yaw))], [-sin(radians(yaw)), cos(radians(yaw))]]
        )
        ways = turned + np.array([x, y]) - places[at_mark]
        by_tape = (measured - shift - np.hypot(ways[:, 0], ways[:, 1])) / u_tape
        return np.concatenate([by_tape, ((places - marks) / u_marks)[used].ravel()])

    nominal = [request["nominal"][axis] for axis in AXES]
    start = np.concatenate([nominal, marks[used].ravel(), [] if biased is None else [0.0]])
    found = least_squares(misfits, start, x_scale="jac", xtol=1e-14, ftol=1e-14, gtol=1e-14)
    slopes = np.asarray(found.jac)
    fixed = bool(np.linalg.cond(slopes / np.linalg.norm(slopes, axis=0)) < 1e6)
    return Fit(found.x, np.linalg.pinv(slopes.T @ slopes), float(2 * found.cost), fixed)


def _off(request: Json, at: Any) -> Any:
    off = np.array([value - request["nominal"][axis] for value, axis in zip(at, AXES, strict=False)])
    off[2] = (off[2] + 180.0) % 360.0 - 180.0
    return off


def _verdict(off: float, u: float, limit: float, alpha: float) -> Json:
    low, high = (float(norm.ppf(level, off, u)) for level in (alpha, 1 - alpha))
    word = "conforms" if -limit <= low and high <= limit else "not_proven"
    if low > limit or high < -limit:
        word = "does_not_conform"
    inside = norm.cdf(limit, off, u) - norm.cdf(-limit, off, u)
    return {"verdict": word, "probability": rounded(inside, 6)}


def _verdicts(request: Json, found: Fit) -> tuple[Json, float | None]:
    limits, alpha = request.get("tolerance", {}), request.get("alpha", 0.05)
    off, u = _off(request, found.at[:3]), np.sqrt(np.diag(found.covariance))[:3]
    rows = [row for row, axis in enumerate(AXES) if axis in limits]
    verdicts: Json = {axis: {"verdict": None, "probability": None} for axis in AXES}
    for row in rows:
        verdicts[AXES[row]] = _verdict(off[row], u[row], limits[AXES[row]], alpha)
    joint = None
    if rows:
        half = np.array([limits[AXES[row]] for row in rows])
        spread = found.covariance[np.ix_(rows, rows)]
        joint = float(multivariate_normal.cdf(half, off[rows], spread, lower_limit=-half, abseps=1e-6, rng=1))
    verdicts["height_mm"] = None
    if "height_mm" in limits and "u_height_mm" in request:
        high = request["measured_height_mm"] - request["nominal"]["height_mm"]
        verdicts["height_mm"] = _verdict(high, request["u_height_mm"], limits["height_mm"], alpha)
        joint = (1.0 if joint is None else joint) * verdicts["height_mm"]["probability"]
    return verdicts, None if joint is None else rounded(joint, 6)


def _checked(request: Json) -> list[Json]:
    detectable = norm.ppf(1 - request.get("alpha_outlier", 0.001) / 2) + norm.ppf(0.80)
    checked = []
    for row, one in enumerate(request["observations"]):
        biased = fit(request, row)
        u = float(np.sqrt(biased.covariance[-1, -1]))
        # A bias that no other distance contradicts is not fixed by any.
        w = rounded(biased.at[-1] / u, 5) if biased.fixed else None
        mdb_mm = rounded(detectable * u, 4) if biased.fixed else None
        checked.append({"mark": one["mark"], "foot": one["foot"], "w": w, "mdb_mm": mdb_mm})
    return checked


def _aim(request: Json, at: Any) -> Json | None:
    if "sensor" not in request:
        return None
    sensor, nominal = request["sensor"], request["nominal"]

    def seen(x: float, y: float, z: float) -> tuple[float, float]:
        dx, dy, dz = x - sensor["x_mm"], y - sensor["y_mm"], z - sensor["z_mm"]
        return degrees(atan2(dy, dx)), degrees(atan2(dz, hypot(dx, dy)))

    was = seen(nominal["x_mm"], nominal["y_mm"], nominal["height_mm"])
    now = seen(at[0], at[1], request["measured_height_mm"])
    yaw = (now[0] - was[0] + 180) % 360 - 180
    # The miss multiplies the pose's own tolerance by range over distance: it is compared as an angle.
    assert isfinite(tan(radians(yaw)))
    return {"yaw_error_deg": rounded(yaw, 6), "elevation_error_deg": rounded(now[1] - was[1], 6)}


def solved(name: str, request: Json) -> Case:
    """Return a case whose answer is found here."""
    found = fit(request)
    dof = len(request["observations"]) - 3
    level = request.get("alpha", 0.05)
    critical = float(chi2.ppf(1 - level, dof)) if dof else None
    passed = bool(found.sum_of_squares <= critical) if critical else None
    verdicts, joint = _verdicts(request, found)
    body: Json = {
        "pose": {axis: rounded(v, 5) for axis, v in zip(AXES, found.at, strict=False)},
        "u": {axis: rounded(v, 5) for axis, v in zip(AXES, np.sqrt(np.diag(found.covariance)), strict=False)},
        "chi2": {
            "value": rounded(found.sum_of_squares, 4),
            "dof": dof,
            "critical": rounded(critical, 8) if critical else None,
            "passed": passed,
        },
        "verdicts": verdicts,
        "joint_probability": joint,
        "aim": _aim(request, found.at),
        "outcome": _outcome(passed, verdicts),
    }
    if dof:
        body["observations"] = _checked(request)
    return Case(name, SOURCE, request, answered(**body), MDB_TOLERANCE)


def _outcome(passed: bool | None, verdicts: Json) -> str:
    if passed is False:
        return "measurements_disagree"
    words = [v["verdict"] for v in verdicts.values() if v and v["verdict"]]
    if "does_not_conform" in words:
        return "does_not_conform"
    return "not_proven" if passed is None or not words or "not_proven" in words else "conforms"


FRONT = {
    "front left wheel": (2760.0, 905.0, 1.0),
    "front right wheel": (2760.0, -905.0, 1.0),
    "left corner": (3600.0, 700.0, 1.2),
    "right corner": (3600.0, -700.0, 1.2),
    "left of the board": (6000.0, 2600.0, 0.8),
}
BOARD = ((280.0, 520.0), (280.0, -520.0), (-320.0, 520.0), (-320.0, -520.0))
NOMINAL = {"x_mm": 6050.0, "y_mm": 0.0, "yaw_deg": 180.0, "height_mm": 1400.0}
# Errors of the tape, drawn once from a table of random numbers, in standard deviations.
NOISE = (0.3, -0.9, 0.6, 1.1, -0.4, -0.2, 0.8, -1.3, 0.1, 0.5)
ALL = tuple((mark, foot) for mark in FRONT for foot in (0, 1))


def measured(
    true: tuple[float, float, float],
    pairs: tuple[tuple[str, int], ...],
    u_mm: float = 0.8,
    slip: dict[int, float] | None = None,
) -> list[Json]:
    """Return what a tape shows with the fixture at a pose, to a tenth of a millimetre."""
    x, y, yaw = true
    c, s = cos(radians(yaw)), sin(radians(yaw))
    shown = []
    for row, (mark, foot) in enumerate(pairs):
        fx, fy = BOARD[foot]
        mx, my, _ = FRONT[mark]
        length = hypot(x + c * fx - s * fy - mx, y + s * fx + c * fy - my)
        length += u_mm * NOISE[row % len(NOISE)] + (slip or {}).get(row, 0.0)
        shown.append({"mark": mark, "foot": foot, "distance_mm": round(length, 1), "u_mm": u_mm})
    return shown


def request(observations: list[Json], **changes: Any) -> Json:
    """Return a request with a board ahead of a car; a field that is changed to None is left out."""
    whole: Json = {
        "marks": {name: dict(zip(("x_mm", "y_mm", "u_mm"), m, strict=True)) for name, m in FRONT.items()},
        "feet": [{"x_mm": x, "y_mm": y} for x, y in BOARD],
        "observations": observations,
        "nominal": NOMINAL,
        "measured_height_mm": 1401.0,
        "u_height_mm": 0.8,
        "tolerance": {"x_mm": 5.0, "y_mm": 3.0, "yaw_deg": 0.3, "height_mm": 3.0},
        "sensor": {"x_mm": 2300.0, "y_mm": 0.0, "z_mm": 1290.0},
        **changes,
    }
    return {field: value for field, value in whole.items() if value is not None}


SIX = (*ALL[4:], ("front left wheel", 1), ("front right wheel", 0))
THREE = (("left corner", 0), ("right corner", 1), ("left of the board", 0))
TWICE = (*THREE, THREE[0], THREE[2])
SOLVED: dict[str, Json] = {
    "set well, ten distances": request(measured((6050.4, -0.3, 180.02), ALL)),
    "too far forward and turned": request(measured((6059.0, -1.0, 179.2), ALL)),
    "across the seam at 180 degrees": request(measured((6050.0, 0.0, -179.93), SIX)),
    "a coarse tape proves nothing": request(measured((6050.0, 1.0, 180.1), SIX, 4.0)),
    "one distance to spare": request(measured((6050.2, 0.4, 180.0), ALL[:3] + ALL[8:9])),
    "nothing to spare": request(measured((6050.2, 0.4, 180.0), THREE)),
    "nothing to spare and outside": request(measured((6090.0, 0.4, 180.0), THREE)),
    "distances measured twice share their mark": request(measured((6050.2, 0.4, 180.0), TWICE)),
    "a slip of 12 mm": request(measured((6050.0, 0.0, 180.0), ALL, slip={3: 12.0})),
    "yaw alone has a tolerance": request(
        measured((6053.0, 8.0, 180.05), ALL), tolerance={"yaw_deg": 0.5}, sensor=None
    ),
    "no tolerance at all": request(measured((6050.0, 0.0, 180.0), ALL), tolerance={}),
    "height without its uncertainty": request(measured((6050.0, 0.0, 180.0), ALL), u_height_mm=None),
    "too high": request(measured((6050.4, -0.3, 180.02), ALL), measured_height_mm=1407.0),
    "another risk": request(measured((6050.9, -0.6, 180.05), ALL), alpha=0.01, alpha_outlier=0.01),
}
GOOD = measured((6050.0, 0.0, 180.0), SIX)
REFUSED: dict[str, tuple[Json, Json]] = {
    "an unknown mark": (
        request([*GOOD[:3], {**GOOD[3], "mark": "nowhere"}]),
        refused("UNKNOWN_NAME", "/observations/3/mark"),
    ),
    "a foot that is not there": (
        request([*GOOD[:3], {**GOOD[3], "foot": 4}]),
        refused("INVALID_VALUE", "/observations/3/foot"),
    ),
    "two distances": (request(GOOD[:2]), refused("INVALID_VALUE", "/observations")),
    "one foot": (
        request([{**one, "foot": 0} for one in GOOD], feet=[{"x_mm": 0.0, "y_mm": 0.0}]),
        refused("INVALID_VALUE", "/feet"),
    ),
    "two feet at one point": (
        request(GOOD, feet=[{"x_mm": 0.0, "y_mm": 50.0}] * 2),
        refused("INVALID_VALUE", "/feet"),
    ),
    "distances to one foot alone": (
        request([one for one in measured((6050.0, 0.0, 180.0), ALL) if one["foot"] == 0]),
        refused("INVALID_VALUE", "/observations"),
    ),
    "all from one mark": (
        request([{**one, "mark": "left corner"} for one in GOOD]),
        refused("INVALID_VALUE", "/observations"),
    ),
    "three that meet nowhere": (
        request([GOOD[0], {**GOOD[1], "distance_mm": 100.0}, GOOD[2]]),
        refused("INVALID_VALUE", "/observations/1/distance_mm"),
    ),
    "a negative distance": (
        request([*GOOD[:3], {**GOOD[3], "distance_mm": -5.0}]),
        refused("INVALID_VALUE", "/observations/3/distance_mm"),
    ),
    "a tolerance of nothing": (
        request(GOOD, tolerance={"x_mm": 0.0}),
        refused("INVALID_VALUE", "/tolerance/x_mm"),
    ),
    "an impossible risk": (request(GOOD, alpha=0.0), refused("INVALID_VALUE", "/alpha")),
}


def file() -> Json:
    """Return the file of vectors."""
    cases = [solved(name, sent) for name, sent in SOLVED.items()]
    cases += [Case(name, "The API's contract.", sent, expect) for name, (sent, expect) in REFUSED.items()]
    return file_of(
        "POST /v1/geometry/as-set",
        "Where a fixture stands by measured distances, and what they prove.",
        SOURCE,
        cases,
    )
