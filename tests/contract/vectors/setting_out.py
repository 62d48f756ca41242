"""Test vectors of setting out with tapes, solved without the service's formulas.

Two circles are cut by the law of cosines in complex numbers, and every slope is taken by a complex step
(Squire & Trapp, SIAM Review 40, 1998), so that no matrix is inverted. Whether a tape passes through a blocker
is found by looking at many points of it.
"""

from itertools import combinations
from math import ceil, sqrt
from typing import Any, NamedTuple

import numpy as np

from contract.vectors.cases import Case, Json, answered, file_of, refused, rounded

SOURCE = (
    "Circles cut by the law of cosines, slopes by complex steps (Squire & Trapp 1998); tapes by Directive "
    "2014/32/EU, annex X (MI-008): a + b L mm, L rounded up to whole metres."
)
CLOSED_FORM = (
    "Two tapes of equal sd s from (-0.78, 0) and (0.78, 0) to (0, 3): 2.810062 s across, 0.730616 s along, "
    "in closed form."
)
_MPE = {"I": (0.1, 0.1), "II": (0.3, 0.2), "III": (0.6, 0.4)}
_STEP = 1e-30
TOLERANCE = {"mm": 1e-6, "angle": 1e-9}


class Cut(NamedTuple):
    """What a pair of marks does: sd along and across the critical direction, slopes of both distances."""

    u_critical: float
    u_other: float
    by_distance: tuple[tuple[float, float], tuple[float, float]]


def _u_tape(request: Json, distance: float) -> float:
    tape = request["tape"]
    a, b = _MPE[tape["class"]] if tape.get("class") else (tape["mpe_mm"], 0.0)
    return sqrt((a + b * ceil(round(distance / 1000, 9))) ** 2 / 3 + 0.5**2)


def _length(point: Any) -> Any:
    return np.sqrt(point[0] ** 2 + point[1] ** 2)


def _meeting(values: Any, target: Any) -> Any:
    """Return where circles about (v2, v3) and (v4, v5) with radii v0, v1 meet, on the target's side."""
    one, two = values[2:4], values[4:6]
    base = _length(two - one)
    cosine = (values[0] ** 2 + base**2 - values[1] ** 2) / (2 * values[0] * base)
    sine = np.sqrt(1 - cosine**2)
    u = (two - one) / base
    left = np.array([-u[1], u[0]])
    if ((target - one) @ left).real < 0:
        sine = -sine
    return one + values[0] * (cosine * u + sine * left)


def _slopes(function: Any, values: Any) -> Any:
    columns = []
    for index in range(len(values)):
        stepped = values.astype(complex)
        stepped[index] += 1j * _STEP
        columns.append(np.imag(function(stepped)) / _STEP)
    return np.array(columns).T


def _inputs(request: Json, names: tuple[str, ...]) -> tuple[Any, Any]:
    """Return distances and coordinates of marks, and their sds."""
    target = np.array([request["target"]["x_mm"], request["target"]["y_mm"]])
    places = [np.array([request["marks"][n]["x_mm"], request["marks"][n]["y_mm"]]) for n in names]
    distances = [float(_length(target - place)) for place in places]
    u_marks = [request["marks"][n]["u_mm"] for n in names for _ in range(2)]
    return (
        np.array([*distances[:2], *np.concatenate(places)]),
        np.array([*(_u_tape(request, d) for d in distances[:2]), *u_marks]),
    )


def _cut(request: Json, names: tuple[str, str]) -> Cut:
    target = np.array([request["target"]["x_mm"], request["target"]["y_mm"]])
    values, sds = _inputs(request, names)
    n = np.array(request["critical_direction"], dtype=float)
    axes = np.array([n, [-n[1], n[0]]]) / _length(n)
    slopes = axes @ _slopes(lambda v: _meeting(v, target), values)
    u = np.sqrt(((slopes * sds) ** 2).sum(axis=1))
    (a, b), (c, d) = slopes[:, :2]
    return Cut(float(u[0]), float(u[1]), ((float(a), float(b)), (float(c), float(d))))


def _check(request: Json, pair: tuple[str, str], name: str) -> tuple[float, float]:
    """Return how well a third mark checks a pair, and the sd of the misclosure."""
    target = np.array([request["target"]["x_mm"], request["target"]["y_mm"]])
    values, sds = _inputs(request, (*pair, name))
    slopes = _slopes(lambda v: _length(_meeting(v[:6], target) - v[6:8]), values)
    third = float(_length(target - values[6:8]))
    u = sqrt(float(((slopes * sds) ** 2).sum()) + _u_tape(request, third) ** 2)
    return float(min(abs(slopes[0]), abs(slopes[1]))) / u, u


def _is_inside(point: Any, outline: list[list[float]]) -> bool:
    """Count the edges that a ray to the right crosses."""
    inside = False
    for (x1, y1), (x2, y2) in zip(outline, [*outline[1:], outline[0]], strict=True):
        if (y1 > point[1]) != (y2 > point[1]) and point[0] < x1 + (point[1] - y1) * (x2 - x1) / (y2 - y1):
            inside = not inside
    return inside


def _is_free(request: Json, name: str) -> bool:
    start = np.array([request["marks"][name]["x_mm"], request["marks"][name]["y_mm"]])
    end = np.array([request["target"]["x_mm"], request["target"]["y_mm"]])
    points = [start + share * (end - start) for share in np.linspace(0, 1, 4001)[1:-1]]
    areas = [outline for outline in request.get("blockers", []) if len(outline) > 2]
    return not any(_is_inside(point, outline) for outline in areas for point in points)


def _reaches(request: Json, name: str) -> bool:
    mark, target = request["marks"][name], request["target"]
    away = _length(np.array([target["x_mm"] - mark["x_mm"], target["y_mm"] - mark["y_mm"]]))
    return bool(away <= request["tape"]["length_mm"]) and _is_free(request, name)


def _sine(request: Json, pair: tuple[str, str]) -> float:
    """Return the sine at the target, by Heron's area of the triangle."""
    values, _ = _inputs(request, pair)
    base = float(_length(values[4:6] - values[2:4]))
    half = (values[0] + values[1] + base) / 2
    area = np.sqrt(half * (half - values[0]) * (half - values[1]) * (half - base))
    return float(2 * area / (values[0] * values[1]))


def expected(request: Json, *, walled: tuple[str, ...] = ()) -> Json:
    """Return the answer; ``walled`` are the marks that a wall of two points hides."""
    seen = sorted(n for n in request["marks"] if n not in walled and _reaches(request, n))
    least = request.get("min_sin_angle", 0.3)
    pairs = [pair for pair in combinations(seen, 2) if _sine(request, pair) >= least]
    cuts = {pair: _cut(request, pair) for pair in pairs}

    def place_of(pair: tuple[str, str]) -> tuple[float, float, tuple[str, str]]:
        cut = cuts[pair]
        return round(cut.u_critical, 7), round(sqrt(cut.u_critical**2 + cut.u_other**2), 7), pair

    order = sorted(pairs, key=place_of)
    best = order[0]
    (a, b), (c, d) = cuts[best].by_distance
    limits = request["tolerance"]
    worst = min(limits["critical_mm"] / (abs(a) + abs(b)), limits["other_mm"] / (abs(c) + abs(d)))
    likely = min(limits["critical_mm"] / sqrt(a * a + b * b), limits["other_mm"] / sqrt(c * c + d * d))
    values, _ = _inputs(request, best)
    others = [name for name in seen if name not in best]
    judged = {name: _check(request, best, name) for name in others}
    chosen = max(others, key=lambda name: round(judged[name][0], 8), default=None)
    return answered(
        feasible=True,
        distances=[
            {
                "mark": name,
                "distance_mm": rounded(values[index], 9),
                "tolerance_worst_mm": rounded(worst, 9),
                "tolerance_95_mm": rounded(likely, 9),
            }
            for index, name in enumerate(best)
        ],
        check=None
        if chosen is None
        else {
            "mark": chosen,
            "distance_mm": rounded(_inputs(request, (chosen, best[0]))[0][0], 9),
            "u_mm": rounded(judged[chosen][1], 9),
        },
        u_critical_mm=rounded(cuts[best].u_critical, 9),
        u_position_mm=rounded(sqrt(cuts[best].u_critical ** 2 + cuts[best].u_other ** 2), 9),
        sin_angle=rounded(_sine(request, best), 12),
        ranking=[
            {
                "marks": list(pair),
                "u_critical_mm": rounded(cuts[pair].u_critical, 9),
                "u_position_mm": rounded(sqrt(cuts[pair].u_critical ** 2 + cuts[pair].u_other ** 2), 9),
            }
            for pair in order
        ],
    )


WHEELS = {
    "front left": (2810.0, 945.0),
    "front right": (2810.0, -945.0),
    "rear left": (0.0, 950.0),
    "rear right": (0.0, -950.0),
}
OFFSET = {"front left out": (2810.0, 1545.0), "front right out": (2810.0, -1545.0)}
BUMPER = {"front bumper": (3680.0, 0.0)}
CAR = [[-150.0, -900.0], [2960.0, -900.0], [2960.0, 900.0], [-150.0, 900.0]]


def sent(marks: dict[str, tuple[float, float]], target: tuple[float, float], **other: Any) -> Json:
    """Return a request; what is not given is ordinary."""
    u_mm = other.pop("u_mm", 1.5)
    return {
        "marks": {name: {"x_mm": x, "y_mm": y, "u_mm": u_mm} for name, (x, y) in marks.items()},
        "target": {"x_mm": target[0], "y_mm": target[1]},
        "critical_direction": [1.0, 0.0],
        "tolerance": {"critical_mm": 5.0, "other_mm": 10.0},
        "tape": {"class": "II", "length_mm": 10000.0},
        **other,
    }


def _answered_cases() -> dict[str, tuple[Json, tuple[str, ...]]]:
    front = {**WHEELS, **OFFSET, **BUMPER}
    cage = [
        [4000.0, -300.0],
        [4600.0, -300.0],
        [4600.0, 400.0],
        [4400.0, 400.0],
        [4400.0, 0.0],
        [4000.0, 0.0],
    ]
    return {
        "two marks and no check": (sent({"a": (0.0, -780.0), "b": (0.0, 780.0)}, (3000.0, 40.0)), ()),
        "wheels, bumper and a free view": (sent({**WHEELS, **BUMPER}, (5200.0, 520.0)), ()),
        "the car in the way": (sent(front, (5200.0, 520.0), blockers=[CAR]), ()),
        "a critical direction of another length": (
            sent(front, (5200.0, -520.0), blockers=[CAR], critical_direction=[-300.0, 120.0]),
            (),
        ),
        "a better tape": (sent(front, (5200.0, -520.0), tape={"class": "I", "length_mm": 10000.0}), ()),
        "a worse tape": (sent(front, (5200.0, -520.0), tape={"class": "III", "length_mm": 10000.0}), ()),
        "a laser distance meter": (
            sent(front, (5200.0, -520.0), tape={"mpe_mm": 1.5, "length_mm": 30000.0}),
            (),
        ),
        "a short tape": (sent(front, (5200.0, -520.0), tape={"class": "II", "length_mm": 3000.0}), ()),
        "a flat cut allowed": (sent(front, (6800.0, 300.0), min_sin_angle=0.15), ()),
        "marks that are surely known": (sent(front, (5200.0, 520.0), u_mm=0.0), ()),
        "a blocker that is not convex": (sent(front, (5200.0, 520.0), blockers=[cage]), ()),
        "a wall of two points": (
            sent({**WHEELS, **BUMPER}, (5200.0, 500.0), blockers=[[[4300.0, -900.0], [4300.0, 200.0]]]),
            ("front right",),
        ),
        "a tape along an edge": (
            sent(
                {"a": (0.0, 0.0), "b": (4000.0, 900.0), "c": (2000.0, 3000.0)},
                (4000.0, 0.0),
                blockers=[[[1000.0, 0.0], [3000.0, 0.0], [3000.0, -400.0], [1000.0, -400.0]]],
            ),
            (),
        ),
        "whole metres": (sent({"a": (0.0, 0.0), "b": (3000.0, 4000.0)}, (3000.0, 0.0)), ()),
    }


def _refusals() -> dict[str, tuple[Json, Json]]:
    good = sent(WHEELS, (5200.0, 520.0))
    bad = "INVALID_VALUE"
    bow = [[0.0, 0.0], [100.0, 100.0], [100.0, 0.0], [0.0, 100.0]]
    flat = [[0.0, 0.0], [100.0, 100.0], [200.0, 200.0]]
    return {
        "no critical direction": (
            good | {"critical_direction": [0.0, 0.0]},
            refused(bad, "/critical_direction"),
        ),
        "a blocker that crosses itself": (good | {"blockers": [CAR, bow]}, refused(bad, "/blockers/1")),
        "a blocker without an inside": (good | {"blockers": [flat]}, refused(bad, "/blockers/0")),
        "a tape of a class and an error": (
            good | {"tape": {"class": "II", "mpe_mm": 1.0, "length_mm": 5000.0}},
            refused(bad, "/tape/mpe_mm"),
        ),
        "a tape of nothing": (good | {"tape": {"length_mm": 5000.0}}, refused(bad, "/tape/class")),
        "a class that nobody knows": (
            good | {"tape": {"class": "IV", "length_mm": 5000.0}},
            refused(bad, "/tape/class"),
        ),
        "a tolerance of nothing": (
            good | {"tolerance": {"critical_mm": 0.0, "other_mm": 1.0}},
            refused(bad, "/tolerance/critical_mm"),
        ),
    }


def file() -> Json:
    """Return the file of vectors."""
    cases = [
        Case(name, SOURCE, request, expected(request, walled=walled), TOLERANCE)
        for name, (request, walled) in _answered_cases().items()
    ]
    closed = sent(
        {"a": (-780.0, 0.0), "b": (780.0, 0.0)},
        (0.0, 3000.0),
        u_mm=0.0,
        tape={"mpe_mm": sqrt(3.0) * 1.2, "length_mm": 5000.0},
    )
    # mpe / sqrt(3) = 1.2 mm and 0.5 mm of reading make 1.3 mm.
    body = answered(
        feasible=True, u_critical_mm=2.810062 * 1.3, u_position_mm=1.3 * sqrt(2.810062**2 + 0.730616**2)
    )
    cases.append(Case("two tapes in closed form", CLOSED_FORM, closed, body, {"mm": 2e-6}))
    without = {
        "no pair: one mark": sent({"a": (0.0, 0.0)}, (3000.0, 0.0)),
        "no pair: no mark": sent({}, (3000.0, 0.0)),
        "no pair: marks in one line with the target": sent(
            {"a": (0.0, 0.0), "b": (1000.0, 0.0), "c": (2000.0, 1.0)}, (3000.0, 0.0)
        ),
        "no pair: two marks at one point": sent({"a": (0.0, 0.0), "b": (0.0, 0.0)}, (3000.0, 0.0)),
        "no pair: the target on a mark": sent({"a": (0.0, 0.0), "b": (3000.0, 0.0)}, (3000.0, 0.0)),
        "no pair: everything too far": sent(WHEELS, (50000.0, 0.0)),
    }
    nothing = answered(
        feasible=False, distances=[], check=None, u_critical_mm=None, u_position_mm=None, sin_angle=None,
        ranking=[],
    )  # fmt: skip
    cases += [Case(name, "The API's contract.", request, nothing) for name, request in without.items()]
    cases += [Case(name, "The API's contract.", s, expect) for name, (s, expect) in _refusals().items()]
    description = "Two tapes to a point: best pair of marks, distances, tolerances, check, ranking."
    return file_of("POST /v1/geometry/setting-out", description, SOURCE, cases)
