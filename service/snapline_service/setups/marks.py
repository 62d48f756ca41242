"""The marks of a stage: from the car, from the person, made by string, and made by tape."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from snapline.wire.setup_setting_out import GivenMark, SetupMark
from snapline.wire.setups import SetupRequest
from snapline_service.geometry.datums import ZERO, DatumPoint, Measured
from snapline_service.geometry.made_marks import by_tapes, halfway, produced
from snapline_service.geometry.marks import Array, Marks, from_inputs
from snapline_service.geometry.setting_out import Best, is_left_of
from snapline_service.geometry.vehicle_marks import (
    BUMPERS,
    TYRE_WIDTH,
    WHEELS,
    VehicleMarks,
    vehicle_marks,
)
from snapline_service.setups.figures import Units, length
from snapline_service.setups.inputs import Inputs
from snapline_service.setups.means import Means

FRONT_MIDDLE, REAR_MIDDLE = "front axle middle", "rear axle middle"
OFFSET_MM = 600.0
SIDE_LINE_MM = 1500.0
PAST_BUMPER_MM = 500.0
_STRING_MM = 300.0  # marks nearer to each other, as a person may give them, hold no string straight
_INPUT = "input:"
# An input that nobody stated is followed with a vanishing uncertainty: it adds nothing, and its covariance
# with a point over its variance is the point's slope.
_TRACE_U = 1e-6

_SHORT = {
    "front left wheel": "FL",
    "front right wheel": "FR",
    "rear left wheel": "RL",
    "rear right wheel": "RR",
    "front bumper": "BF",
    "rear bumper": "BR",
    FRONT_MIDDLE: "MF",
    REAR_MIDDLE: "MR",
}


@dataclass(frozen=True, slots=True)
class Note:
    """How a mark is made."""

    short: str
    kind: str
    how: str
    made_from: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """All marks and targets of a stage with their joint covariance.

    ``primary`` are the car's own and the person's, ``auxiliary`` those made by string.
    """

    joint: Marks
    primary: tuple[str, ...]
    auxiliary: tuple[str, ...]
    notes: dict[str, Note]
    unstated: tuple[str, ...]

    def slopes(self, weights: Array, name: str) -> Array:
        """Return d(weights . errors) / d(input) for an input that nobody stated an uncertainty of."""
        at = 2 * self.joint.index(_INPUT + name)
        return np.asarray(weights @ self.joint.covariance_mm2[:, at] / _TRACE_U**2)


def car_marks(inputs: Inputs, request: SetupRequest) -> VehicleMarks:
    """Return the marks that the car gives."""
    return vehicle_marks(inputs.vehicle, inputs.tyre_width_mm, request.wheel_mark_clearance_mm)


def ground_of(
    inputs: Inputs,
    request: SetupRequest,
    targets: Mapping[str, DatumPoint],
    means: Means,
    *,
    thrust_yaw_deg: float | None,
) -> Ground:
    """Bring everything of a stage to one joint covariance.

    ``thrust_yaw_deg`` asks for marks on the thrust line besides the centreline.
    """
    points = {name: at for name, at in car_marks(inputs, request).points.items() if name not in request.marks}
    given = {
        name: DatumPoint(Measured(mark.x_mm), Measured(mark.y_mm)) for name, mark in request.marks.items()
    }
    stated = _stated(inputs, means)
    used = {key for at in (*points.values(), *targets.values()) for axis in at for key, _ in axis.slopes}
    unstated = tuple(sorted(used - set(stated)))
    followed = {_INPUT + key: DatumPoint(Measured(0.0, ((key, 1.0),)), ZERO) for key in unstated}
    own = dict.fromkeys(points, means.u_marking_mm) | {name: m.u_mm for name, m in request.marks.items()}
    joint = from_inputs(
        {**points, **given, **targets, **followed}, own, stated | dict.fromkeys(unstated, _TRACE_U)
    )
    notes = {name: _note_of_car(name, request.wheel_mark_clearance_mm, means.units) for name in points}
    notes |= {name: _note_of_given(name, mark) for name, mark in request.marks.items()}
    ground = Ground(joint, tuple(notes), (), notes, unstated)
    return _with_strings(ground, inputs, means, thrust_yaw_deg)


def with_stations(ground: Ground, stations: Iterable[tuple[str, Best]], means: Means) -> Ground:
    """Return the ground with marks that were set out by tape from others: the first of two stages."""
    joint, notes = ground.joint, dict(ground.notes)
    for name, best in stations:
        joint = by_tapes(joint, name, best, u_marking_mm=means.u_marking_mm)
        notes[name] = _note_of_station(joint, notes, name, best, means.units)
    return replace(ground, joint=joint, notes=notes)


def wire_marks(ground: Ground, names: Iterable[str]) -> tuple[SetupMark, ...]:
    """Return marks for the answer, with those that they are made from."""
    wanted: dict[str, None] = {}

    def add(name: str) -> None:
        for other in ground.notes[name].made_from:
            add(other)
        wanted[name] = None

    for name in names:
        add(name)
    return tuple(_wire(ground, name) for name in wanted)


def _wire(ground: Ground, name: str) -> SetupMark:
    note, row = ground.notes[name], 2 * ground.joint.index(name)
    (xx, xy), (yx, yy) = ground.joint.covariance_mm2[row : row + 2, row : row + 2].tolist()
    x_mm, y_mm = ground.joint.point(name)
    return SetupMark(
        name=name,
        short=note.short,
        kind=note.kind,
        x_mm=x_mm,
        y_mm=y_mm,
        u_mm=((xx + yy) / 2) ** 0.5,
        covariance_xy_mm2=((xx, xy), (yx, yy)),
        how=note.how,
        made_from=note.made_from,
    )


def _stated(inputs: Inputs, means: Means) -> dict[str, float]:
    stated = dict(inputs.standard_uncertainty)
    if inputs.u_tyre_width_mm is not None:
        stated[TYRE_WIDTH] = inputs.u_tyre_width_mm
    return {
        key: min(u, means.greatest_u_mm if key.endswith("_mm") else means.greatest_u_deg)
        for key, u in stated.items()
        if key.startswith("vehicle.")
    }


def _with_strings(ground: Ground, inputs: Inputs, means: Means, thrust_yaw_deg: float | None) -> Ground:
    """Add the middles of the axles and the marks that a string through two marks gives."""
    joint, notes = ground.joint, dict(ground.notes)
    if not set(WHEELS) <= set(joint.names):
        return ground
    for axle, middle in (("front", FRONT_MIDDLE), ("rear", REAR_MIDDLE)):
        both = (f"{axle} left wheel", f"{axle} right wheel")
        joint = halfway(joint, middle, *both, u_marking_mm=means.u_marking_mm)
        how = f"Halve the string from {_mark(notes, both[0])} to {_mark(notes, both[1])}."
        notes[middle] = Note(_SHORT[middle], "line", how, both)
    auxiliary = []
    for name, short, through, beyond_mm, turned_deg in _strings(inputs, thrust_yaw_deg):
        if _apart_mm(joint, *through) < _STRING_MM:
            continue
        joint = produced(
            joint,
            name,
            through,
            beyond_mm,
            tape=replace(means.tape, rounding_mm=0.0),
            u_marking_mm=means.u_marking_mm,
            turned_deg=turned_deg,
        )
        start, end = (_mark(notes, mark) for mark in through)
        how = f"String from {start} past {end}; mark {length(beyond_mm, means.units)} beyond {end}."
        if turned_deg:
            how += _turned(_apart_mm(joint, *through) + beyond_mm, turned_deg, means.units)
        notes[name] = Note(short, "offset" if beyond_mm == OFFSET_MM else "line", how, through)
        auxiliary.append(name)
    return replace(ground, joint=joint, auxiliary=tuple(auxiliary), notes=notes)


def _strings(
    inputs: Inputs, thrust_yaw_deg: float | None
) -> Iterable[tuple[str, str, tuple[str, str], float, float]]:
    """Yield name, short name, the two marks that a string passes, how far beyond, and by how much turned."""
    for end in ("front", "rear"):
        other = "rear" if end == "front" else "front"
        way = "ahead" if end == "front" else "behind"
        overhang_mm = getattr(inputs.vehicle, f"{end}_overhang_mm") or 900.0
        for side, opposite in (("left", "right"), ("right", "left")):
            wheel, code = f"{end} {side} wheel", _SHORT[f"{end} {side} wheel"]
            yield f"{end} {side} offset mark", f"{code}o", (f"{end} {opposite} wheel", wheel), OFFSET_MM, 0.0
            through = (f"{other} {side} wheel", wheel)
            yield f"{side} side mark {way}", f"{side[0].upper()}{way[0]}", through, SIDE_LINE_MM, 0.0
        middles = (f"{other} axle middle", f"{end} axle middle")
        beyond_mm = overhang_mm + PAST_BUMPER_MM
        yield f"centreline mark {way}", f"C{way[0]}", middles, beyond_mm, 0.0
        if thrust_yaw_deg and end == "front":  # the line passes the rear axle's middle
            yield f"thrust line mark {way}", f"T{way[0]}", middles, beyond_mm, thrust_yaw_deg


def _apart_mm(joint: Marks, one: str, two: str) -> float:
    return float(np.hypot(*np.subtract(joint.point(two), joint.point(one))))


def _mark(notes: Mapping[str, Note], name: str) -> str:
    """Name a mark so that nobody takes it for the wheel that it stands beside."""
    return f"mark {notes[name].short}"


def _turned(length_mm: float, turned_deg: float, units: Units) -> str:
    aside_mm = length_mm * float(np.tan(np.radians(abs(turned_deg))))
    return f" From there {length(aside_mm, units)} to the {'left' if turned_deg > 0 else 'right'}."


def _note_of_car(name: str, clearance_mm: float, units: Units) -> Note:
    if name in BUMPERS:
        part = "foremost" if name.startswith("front") else "rearmost"
        how = (
            f"Plumb from the {part} point of the body, without number plate, on the centreline: the line "
            "which runs through the middles of both axles, half-way between the wheel marks."
        )
        return Note(_SHORT[name], "bumper", how)
    how = (
        f"Straight out from the hub's centre, {length(clearance_mm, units)} beyond the tyre's side wall: "
        "plumb to the floor."
    )
    return Note(_SHORT[name], "wheel", how)


def _note_of_given(name: str, mark: GivenMark) -> Note:
    short = _SHORT.get(name, name[:12])
    return Note(short, "given", mark.how or "As measured by the person who gave it.")


def _note_of_station(joint: Marks, notes: Mapping[str, Note], name: str, best: Best, units: Units) -> Note:
    first_mm, second_mm = best.distances_mm
    side = "left" if is_left_of(best.target, *(joint.point(mark) for mark in best.marks)) else "right"
    one, two = (_mark(notes, mark) for mark in best.marks)
    how = (
        f"{length(first_mm, units, whole=True)} from {one} and "
        f"{length(second_mm, units, whole=True)} from {two}, "
        f"{side} of the line from {one} to {two}, seen from {one}."
    )
    return Note(name.rpartition(" ")[2], "set_out", how, best.marks)
