"""The marks of a stage: from the car, from the person, and made by tape as the first of two stages."""

from collections.abc import Iterable, Mapping
from dataclasses import replace

from snapline.wire.setup_setting_out import GivenMark, SetupMark
from snapline.wire.setups import SetupRequest
from snapline_service.geometry.datums import ZERO, DatumPoint, Measured
from snapline_service.geometry.made_marks import by_tapes
from snapline_service.geometry.marks import Marks, from_inputs
from snapline_service.geometry.setting_out import Best
from snapline_service.geometry.vehicle_marks import BUMPERS, TYRE_WIDTH, VehicleMarks, vehicle_marks
from snapline_service.setups.figures import Units, length
from snapline_service.setups.ground import INPUT, SHORT, TRACE_U, Ground, Note, by_two_tapes
from snapline_service.setups.inputs import Inputs
from snapline_service.setups.means import Means
from snapline_service.setups.strung_marks import BUMPER_DATUM, with_strings


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
    wheels = {name: at for name, at in points.items() if name not in BUMPERS}
    bumpers = {BUMPER_DATUM + name: at for name, at in points.items() if name in BUMPERS}
    stated = _stated(inputs, means)
    used = {key for at in (*points.values(), *targets.values()) for axis in at for key, _ in axis.slopes}
    unstated = tuple(sorted(used - set(stated)))
    followed = {INPUT + key: DatumPoint(Measured(0.0, ((key, 1.0),)), ZERO) for key in unstated}
    own = dict.fromkeys(wheels, means.u_marking_mm) | {name: m.u_mm for name, m in request.marks.items()}
    joint = from_inputs(
        {**wheels, **given, **bumpers, **targets, **followed}, own, stated | dict.fromkeys(unstated, TRACE_U)
    )
    notes = {name: _note_of_wheel(name, request.wheel_mark_clearance_mm, means.units) for name in wheels}
    notes |= {name: _note_of_given(name, mark) for name, mark in request.marks.items()}
    ground = Ground(joint, (*points, *given), (), notes, unstated)
    return with_strings(ground, inputs, means, thrust_yaw_deg)


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


def _note_of_wheel(name: str, clearance_mm: float, units: Units) -> Note:
    how = (
        f"Straight out from the hub's centre, {length(clearance_mm, units)} beyond the tyre's side wall: "
        "plumb to the floor."
    )
    return Note(SHORT[name], "wheel", how)


def _note_of_given(name: str, mark: GivenMark) -> Note:
    short = SHORT.get(name, name[:12])
    return Note(short, "given", mark.how or "As measured by the person who gave it.")


def _note_of_station(joint: Marks, notes: Mapping[str, Note], name: str, best: Best, units: Units) -> Note:
    marks = [(mark, joint.point(mark)) for mark in best.marks]
    how = by_two_tapes(notes, best.target, marks, units)
    return Note(name.rpartition(" ")[2], "set_out", how, best.marks)
