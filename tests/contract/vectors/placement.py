"""Test vectors of placements."""

from typing import Any

import numpy as np

from contract.vectors import plane
from contract.vectors.cases import Case, Json, answered, file_of, refused, rounded

SOLVED = "Lines cut in homogeneous coordinates; attitude by scipy's Rotation, 'ZYX' (ISO 8855)."
PROPAGATED = f"{SOLVED} Covariance J S J^T (JCGM 102), J by complex steps."
CONTRACT = "The API's contract."

CAR: Json = {
    "wheelbase_mm": 2810.0,
    "front_track_mm": 1560.0,
    "rear_track_mm": 1584.0,
    "front_overhang_mm": 870.0,
    "rear_overhang_mm": 965.0,
    "width_mm": 1842.0,
    "sensors": {
        "front_radar": {"x_mm": 3600.0, "y_mm": 120.0, "z_mm": 455.0},
        "front_camera": {"x_mm": 2250.0, "y_mm": -15.0, "z_mm": 1310.0, "yaw_deg": 0.5, "pitch_deg": 2.0},
        "left_mirror": {"x_mm": 1960.0, "y_mm": 935.0, "z_mm": 1015.0, "yaw_deg": 90.0},
        "rear_camera": {"x_mm": -940.0, "y_mm": 25.0, "z_mm": 905.0, "yaw_deg": 180.0},
        "rear_left_radar": {"x_mm": -905.0, "y_mm": 710.0, "z_mm": 640.0, "yaw_deg": 152.0},
        "corner.front-right": {"x_mm": 3380.0, "y_mm": -720.0, "z_mm": 520.0, "yaw_deg": -45.0},
    },
}
TOLERANCE = {"mm": 0.001, "deg": 1e-6}


def request(aim_line: str, along: Any, lateral: Any, height: Any = ("floor", 0.0), **more: Any) -> Json:
    """Write a request; each of the three distances is a datum and a length."""
    thrust, angles = more.pop("thrust_yaw_deg", None), more.pop("angles", {})
    placement: Json = {"aim_line": aim_line}
    for axis, (datum, distance) in (("along", along), ("lateral", lateral), ("height", height)):
        placement[axis] = {"datum": datum, "distance_mm": distance}
    vehicle = {**CAR, "sensors": CAR["sensors"]} | ({} if thrust is None else {"thrust_yaw_deg": thrust})
    return {"vehicle": vehicle, "placement": placement | angles, **more}


def pose(inputs: plane.Inputs, placement: Json, *, in_bay: bool) -> Json:
    x, y, z, _ = plane.solve(inputs, placement, in_bay=in_bay).real
    yaw, pitch, roll = plane.attitude(inputs, placement, in_bay=in_bay)
    place = {"x_mm": rounded(x, 6), "y_mm": rounded(y, 6), "z_mm": rounded(z, 6)}
    return place | {"yaw_deg": rounded(yaw, 9), "pitch_deg": rounded(pitch, 9), "roll_deg": rounded(roll, 9)}


def solved(name: str, sent: Json) -> Case:
    """Return a case with the independent solution of its request."""
    inputs, placement = plane.inputs_of(sent), sent["placement"]
    in_bay = "bay_pose" in sent
    body: Json = {
        "in_vehicle": pose(inputs, placement, in_bay=False),
        "in_bay": pose(inputs, placement, in_bay=True) if in_bay else None,
        "covariance_xy_mm2": None,
        "contributions": None,
    }
    stated = sent.get("standard_uncertainty", {})
    if not stated:
        return Case(name, SOLVED, sent, answered(**body), TOLERANCE)
    spread = plane.jacobian(inputs, placement, list(stated), in_bay=in_bay) * np.array(list(stated.values()))
    covariance = spread[:2] @ spread[:2].T
    parts = (spread[:2] ** 2).sum(axis=0)
    body["covariance_xy_mm2"] = [[rounded(part, 6) for part in row] for row in covariance]
    if parts.sum() > 0.0:
        shares = sorted(zip(stated, parts / parts.sum(), strict=True), key=lambda part: (-part[1], part[0]))
        body["contributions"] = [{"input": key, "share": rounded(share, 9)} for key, share in shares]
    body["u_z_mm"], body["u_yaw_deg"] = (rounded(u, 9) for u in np.sqrt((spread[2:] ** 2).sum(axis=1)))
    tolerance = TOLERANCE | {"mm2": max(1e-5, rounded(1e-6 * parts.sum(), 6)), "share": 1e-6}
    return Case(name, PROPAGATED, sent, answered(**body), tolerance)


FACING = {"yaw_deg": 180.0}
AHEAD, AIM, CENTRE = ("front_bumper", 2000.0), ("aim_line", 0.0), ("centreline", 0.0)
MIRROR, BACK, OBLIQUE = "sensor:left_mirror", "sensor:rear_camera", "sensor:rear_left_radar"
CORNER = "sensor:corner.front-right"
BAY = {"x_mm": 4000.0, "y_mm": 2500.0, "heading_deg": 90.0}

POSES: dict[str, Json] = {
    "centreline, ahead of the front bumper": request("centreline", AHEAD, CENTRE, angles=FACING),
    "centreline, behind the rear bumper": request(
        "centreline", ("rear_bumper", -1500.0), ("centreline", 250.0)
    ),
    "centreline, from the front axle and a front wheel": request(
        "centreline", ("front_axle", 1234.5), ("wheel:front_left", 320.0)
    ),
    "centreline, from the rear axle and a front wheel": request(
        "centreline", ("rear_axle", -2400.0), ("wheel:front_right", -80.0)
    ),
    "centreline, from wheels: front left, rear left": request(
        "centreline", ("wheel:front_left", 1000.0), ("wheel:rear_left", 100.0)
    ),
    "centreline, from wheels: front right, rear right": request(
        "centreline", ("wheel:front_right", -650.0), ("wheel:rear_right", -2000.0)
    ),
    "centreline, from one wheel: rear left": request(
        "centreline", ("wheel:rear_left", 0.0), ("wheel:rear_left", 0.0)
    ),
    "centreline, from one wheel: rear right": request(
        "centreline", ("wheel:rear_right", 500.0), ("wheel:rear_right", 500.0)
    ),
    "centreline, all three from a sensor": request(
        "centreline",
        ("sensor:front_radar", 1800.0),
        ("sensor:front_radar", 0.0),
        ("sensor:front_radar", -30.0),
        angles=FACING,
    ),
    "thrust line to the left, ahead of the front bumper": request(
        "thrust_line", ("front_bumper", 2200.0), AIM, thrust_yaw_deg=0.1, angles=FACING
    ),
    "thrust line to the right, lateral from the centreline": request(
        "thrust_line", AHEAD, ("centreline", 300.0), thrust_yaw_deg=-0.4, angles=FACING
    ),
    "thrust line, behind the rear bumper": request(
        "thrust_line", ("rear_bumper", -3000.0), ("aim_line", -40.0), thrust_yaw_deg=0.6
    ),
    "thrust line, front axle and a wheel": request(
        "thrust_line", ("front_axle", 2500.0), ("wheel:front_right", 0.0), thrust_yaw_deg=0.5
    ),
    "thrust line, rear axle and centreline": request(
        "thrust_line", ("rear_axle", 6000.0), ("centreline", -900.0), thrust_yaw_deg=1.5
    ),
    "thrust line, a wheel does not turn with it": request(
        "thrust_line", ("wheel:front_left", 0.0), ("wheel:front_left", 0.0), thrust_yaw_deg=0.5
    ),
    "thrust line, a sensor does not turn with it": request(
        "thrust_line", ("sensor:front_radar", 2000.0), ("sensor:front_camera", 0.0), thrust_yaw_deg=-0.3
    ),
    "thrust line that nobody turned": request("thrust_line", AHEAD, AIM),
    "sensor ahead, half a degree to the left": request(
        "sensor:front_camera", AHEAD, AIM, ("sensor:front_camera", -110.0), angles=FACING
    ),
    "sensor ahead, lateral from the centreline": request(
        "sensor:front_camera", AHEAD, ("centreline", -600.0)
    ),
    "sensor to the side, along from itself": request(
        MIRROR, (MIRROR, 1500.0), AIM, (MIRROR, 0.0), angles={"yaw_deg": 180.0}
    ),
    "sensor to the side, along and lateral from wheels": request(
        MIRROR, ("wheel:rear_left", 1200.0), ("wheel:front_left", 300.0)
    ),
    "sensor to the rear, behind the rear bumper": request(BACK, ("rear_bumper", 1700.0), AIM, angles=FACING),
    "sensor to the rear, lateral from the centreline is the car's right": request(
        BACK, ("rear_bumper", 1700.0), ("centreline", 400.0)
    ),
    "sensor to the rear, front axle as datum": request(
        BACK, ("front_axle", 5000.0), ("wheel:rear_left", 100.0)
    ),
    "sensor obliquely to the rear, from itself": request(
        OBLIQUE, (OBLIQUE, 2750.0), ("aim_line", 15.0), (OBLIQUE, 0.0), angles=FACING
    ),
    "sensor obliquely to the rear, bumper and centreline": request(
        OBLIQUE, ("rear_bumper", 1400.0), ("centreline", -1800.0)
    ),
    "sensor obliquely ahead, bumper and aim line": request(CORNER, AHEAD, ("aim_line", 60.0), angles=FACING),
    "sensor obliquely ahead, bumper and a wheel": request(CORNER, AHEAD, ("wheel:front_right", 0.0)),
    "bay pose, a quarter turn": request(
        "centreline", AHEAD, ("centreline", 10.0), bay_pose=BAY, angles=FACING
    ),
    "bay pose, three eighths to the right, along the thrust line": request(
        "thrust_line",
        AHEAD,
        AIM,
        thrust_yaw_deg=0.25,
        bay_pose={"x_mm": -1200.0, "y_mm": 800.0, "heading_deg": -135.0},
        angles=FACING,
    ),
    "bay pose, a whole turn changes nothing": request(
        "centreline", AHEAD, CENTRE, bay_pose={"x_mm": 0.0, "y_mm": 0.0, "heading_deg": 360.0}
    ),
    "attitude: yaw 30, pitch 10 nose down, roll 5 left side up": request(
        "centreline", AHEAD, CENTRE, angles={"yaw_deg": 30.0, "pitch_deg": 10.0, "roll_deg": 5.0}
    ),
    "attitude of a fixture that faces an oblique sensor, in the bay": request(
        OBLIQUE,
        (OBLIQUE, 2000.0),
        AIM,
        bay_pose={**BAY, "heading_deg": 120.0},
        angles={"yaw_deg": 180.0, "pitch_deg": -7.5, "roll_deg": 2.0},
    ),
    "angles beyond half a turn are the same modulo 360": request(
        "centreline", AHEAD, CENTRE, angles={"yaw_deg": -350.0, "pitch_deg": 12.0, "roll_deg": -359.0}
    ),
}

TAPE = {"placement.along.distance_mm": 1.5, "placement.lateral.distance_mm": 1.0}
UNCERTAIN: dict[str, Json] = {
    "uncertainty along one axis": request(
        "centreline",
        AHEAD,
        CENTRE,
        standard_uncertainty={
            "vehicle.wheelbase_mm": 2.0,
            "vehicle.front_overhang_mm": 1.2,
            "placement.along.distance_mm": 1.5,
        },
    ),
    "uncertainty of the thrust line": request(
        "thrust_line",
        AHEAD,
        AIM,
        thrust_yaw_deg=0.2,
        standard_uncertainty={"vehicle.thrust_yaw_deg": 0.03, **TAPE},
    ),
    "uncertainty of the thrust line, lateral from the centreline": request(
        "thrust_line",
        ("front_axle", 3000.0),
        ("centreline", 700.0),
        thrust_yaw_deg=-1.0,
        standard_uncertainty={"vehicle.thrust_yaw_deg": 0.05, "vehicle.wheelbase_mm": 3.0, **TAPE},
    ),
    "uncertainty of a wheel's track under a side sensor": request(
        MIRROR,
        ("wheel:rear_left", 1200.0),
        ("wheel:front_left", 300.0),
        standard_uncertainty={
            "vehicle.rear_track_mm": 4.0,
            "vehicle.wheelbase_mm": 2.0,
            "vehicle.sensors.left_mirror.yaw_deg": 0.1,
        },
    ),
    "uncertainty of a sensor's place and direction": request(
        OBLIQUE,
        (OBLIQUE, 2750.0),
        AIM,
        (OBLIQUE, 5.0),
        angles=FACING,
        standard_uncertainty={
            "vehicle.sensors.rear_left_radar.x_mm": 3.0,
            "vehicle.sensors.rear_left_radar.y_mm": 2.0,
            "vehicle.sensors.rear_left_radar.z_mm": 4.0,
            "vehicle.sensors.rear_left_radar.yaw_deg": 0.25,
            "placement.height.distance_mm": 3.0,
            "placement.yaw_deg": 0.15,
        },
    ),
    "uncertainty of the bay pose": request(
        "centreline",
        AHEAD,
        ("centreline", -350.0),
        bay_pose={**BAY, "heading_deg": 33.0},
        standard_uncertainty={
            "bay_pose.x_mm": 4.0,
            "bay_pose.y_mm": 2.5,
            "bay_pose.heading_deg": 0.08,
            **TAPE,
        },
    ),
    "uncertainty that moves nothing": request(
        "centreline",
        AHEAD,
        CENTRE,
        ("sensor:front_radar", 0.0),
        standard_uncertainty={"vehicle.rear_track_mm": 5.0, "vehicle.sensors.front_radar.z_mm": 2.0},
    ),
    "uncertainty of everything, seen in the bay": request(
        CORNER,
        ("front_bumper", 1800.0),
        ("wheel:front_right", 220.0),
        ("sensor:front_camera", -400.0),
        thrust_yaw_deg=0.4,
        bay_pose={"x_mm": 5200.0, "y_mm": 3100.0, "heading_deg": -62.0},
        angles={"yaw_deg": 175.0, "pitch_deg": 1.5, "roll_deg": -0.5},
        standard_uncertainty={
            "vehicle.wheelbase_mm": 2.0,
            "vehicle.front_track_mm": 3.0,
            "vehicle.front_overhang_mm": 2.5,
            "vehicle.rear_overhang_mm": 2.0,
            "vehicle.thrust_yaw_deg": 0.05,
            "vehicle.sensors.corner.front-right.x_mm": 3.5,
            "vehicle.sensors.corner.front-right.y_mm": 2.2,
            "vehicle.sensors.corner.front-right.yaw_deg": 0.12,
            "vehicle.sensors.front_camera.z_mm": 4.5,
            "placement.along.distance_mm": 1.5,
            "placement.lateral.distance_mm": 1.1,
            "placement.height.distance_mm": 0.9,
            "placement.yaw_deg": 0.2,
            "placement.pitch_deg": 0.3,
            "bay_pose.x_mm": 4.1,
            "bay_pose.y_mm": 3.9,
            "bay_pose.heading_deg": 0.1,
        },
    ),
}


def changed(sent: Json, path: str, value: Any) -> Json:
    """Return a request with another value at a place, or without it if the value is None."""
    first, _, rest = path.partition("/")
    copy = dict(sent)
    if rest:
        copy[first] = changed(sent[first], rest, value)
    elif value is None:
        del copy[first]
    else:
        copy[first] = value
    return copy


GOOD = request("centreline", AHEAD, CENTRE)
FIX = "DATUMS_DO_NOT_FIX_A_POINT"
BAD = "INVALID_VALUE"
REFUSED: dict[str, tuple[Json, Json]] = {
    "a side sensor's line never meets the bumper": (
        request(MIRROR, ("rear_bumper", 0.0), AIM),
        refused(FIX, "/placement/along/datum"),
    ),
    "nor an axle": (request(MIRROR, ("front_axle", 0.0), AIM), refused(FIX, "/placement/along/datum")),
    "across a side sensor's line is along the centreline": (
        request(MIRROR, (MIRROR, 0.0), CENTRE),
        refused(FIX, "/placement/lateral/datum"),
    ),
    "87.2 degrees, whose cosine is below 0.05": (
        request("thrust_line", AHEAD, AIM, thrust_yaw_deg=87.2),
        refused(FIX, "/placement/along/datum"),
    ),
    "an aim line of no sensor": (
        request("sensor:front_rader", AHEAD, AIM),
        refused("UNKNOWN_NAME", "/placement/aim_line"),
    ),
    "along from no sensor": (
        request("centreline", ("sensor:night", 0.0), AIM),
        refused("UNKNOWN_NAME", "/placement/along/datum"),
    ),
    "lateral from no sensor": (
        request("centreline", AHEAD, ("sensor:night", 0.0)),
        refused("UNKNOWN_NAME", "/placement/lateral/datum"),
    ),
    "height from no sensor": (
        request("centreline", AHEAD, AIM, ("sensor:night", 0.0)),
        refused("UNKNOWN_NAME", "/placement/height/datum"),
    ),
    "an uncertainty of no input": (
        request("centreline", AHEAD, AIM, standard_uncertainty={"vehicle.colour": 1.0}),
        refused("UNKNOWN_NAME", "/standard_uncertainty/vehicle.colour"),
    ),
    "a negative uncertainty": (
        request("centreline", AHEAD, AIM, standard_uncertainty={"vehicle.width_mm": -1.0}),
        refused(BAD, "/standard_uncertainty/vehicle.width_mm"),
    ),
    "a word that is no datum": (
        request("centreline", ("roof", 0.0), AIM),
        refused(BAD, "/placement/along/datum"),
    ),
    "no wheelbase": (changed(GOOD, "vehicle/wheelbase_mm", 0.0), refused(BAD, "/vehicle/wheelbase_mm")),
    "a negative overhang": (
        changed(GOOD, "vehicle/front_overhang_mm", -1.0),
        refused(BAD, "/vehicle/front_overhang_mm"),
    ),
    "a length beyond a kilometre": (
        changed(GOOD, "placement/along/distance_mm", 1_000_001.0),
        refused(BAD, "/placement/along/distance_mm"),
    ),
    "an angle beyond a turn": (
        changed(GOOD, "placement/yaw_deg", 360.5),
        refused(BAD, "/placement/yaw_deg"),
    ),
    "a number in quotes": (changed(GOOD, "vehicle/width_mm", "1842"), refused(BAD, "/vehicle/width_mm")),
    "a missing field": (
        changed(GOOD, "vehicle/rear_track_mm", None),
        refused(BAD, "/vehicle/rear_track_mm", "MISSING_FIELD"),
    ),
    "an unknown field": (
        changed(GOOD, "vehicle/wheelbase_in", 110.6),
        refused(BAD, "/vehicle/wheelbase_in", "UNKNOWN_FIELD"),
    ),
}


def file() -> Json:
    """Return the file of vectors."""
    cases = [solved(name, sent) for name, sent in (POSES | UNCERTAIN).items()]
    near = request("thrust_line", AHEAD, AIM, thrust_yaw_deg=87.1)
    cases.append(solved("87.1 degrees, whose cosine is above 0.05, just fixes a point", near))
    cases += [Case(name, CONTRACT, sent, expect) for name, (sent, expect) in REFUSED.items()]
    return file_of(
        "POST /v1/geometry/placement",
        "Where a fixture's reference point stands, from datums of the vehicle, with its covariance.",
        PROPAGATED,
        cases,
    )
