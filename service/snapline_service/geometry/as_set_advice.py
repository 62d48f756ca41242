"""What a person does next, in words without a signed number; directions are the vehicle's own."""

from collections.abc import Callable, Iterator, Sequence
from math import dist, radians

import numpy as np

from snapline_service.geometry.as_set_extra import Extras
from snapline_service.geometry.as_set_place import YAW, Place
from snapline_service.geometry.as_set_values import Body, Distance, FloorPose, Height
from snapline_service.geometry.conformity import Verdict, guard_band
from snapline_service.geometry.outliers import Checked
from snapline_service.geometry.values import Point

# What was found must exceed what would stay unknown after a correction (95 %), or moving is a gamble.
_WORTH_MOVING = 1.96
# A further distance is worth the walk when it takes this much off the uncertainty.
_WORTH_MEASURING = 0.9
_WORDS = {
    "x_mm": "the place along the car",
    "y_mm": "the place across the car",
    "along_mm": "the place along the aim line",
    "lateral_mm": "the place across the aim line",
    "yaw_deg": "the yaw",
}
LEAVE = "Leave the feet where they stand."
AGAIN = "Then measure every distance again."


def name_of(distance: Distance, bodies: Sequence[Body]) -> str:
    """Return a distance by its two ends."""
    return f"{distance.mark} to {bodies[distance.body].name(distance.foot)}"


def on_disagreement(
    bodies: Sequence[Body], distances: Sequence[Distance], tested: Sequence[Checked], dof: int
) -> Iterator[str]:
    """Say which distance to measure again, and that none can be named where that is so."""
    suspects = [name_of(one, bodies) for one, test in zip(distances, tested, strict=True) if test.suspect]
    yield "Do not shift or turn the fixture before the distances agree."
    if len(suspects) == 1:
        yield f"Measure {suspects[0]} again: it does not fit the others."
        yield "Leave out no more than one distance at a time."
    elif suspects:
        yield f"Measure {_either(suspects)} again: one of them is wrong, and the others cannot tell which."
    elif dof == 1:
        yield (
            "The distances contradict each other, but with only one to spare none can be singled out: "
            "measure all of them again."
        )
    else:
        yield "The distances contradict each other and none stands out: check the marks, measure all again."


def on_suspects_that_agree(
    bodies: Sequence[Body], distances: Sequence[Distance], tested: Sequence[Checked]
) -> Iterator[str]:
    """Name what stands out although the distances agree as a whole."""
    for one, test in zip(distances, tested, strict=True):
        if test.suspect:
            yield f"Measure {name_of(one, bodies)} again: it stands out, although all together agree."


def to_locate(extra: Distance | None, bodies: Sequence[Body]) -> Iterator[str]:
    """Ask for the distance that tells best which of the others is wrong."""
    if extra is not None:
        yield f"Measure {name_of(extra, bodies)} as well: it tells best which one is wrong."


def to_check(extra: Distance | None, bodies: Sequence[Body]) -> Iterator[str]:
    """Ask for the distance that checks the others best."""
    if extra is None:
        yield "Make a further mark and measure from it: there is no distance to spare that would show a slip."
    else:
        yield f"Measure {name_of(extra, bodies)} as well: it shows best whether one of the others is wrong."


def on_place(place: Place, found: Callable[[], Extras], alpha: float) -> Iterator[str]:
    """Say what to do about a place and a yaw: leave it, move it, or measure better."""
    if not place.tolerances:
        yield "No tolerance of place or yaw is given, so nothing can be proven of them."
    elif not place.open_axes:
        yield LEAVE
    else:
        moving = _is_worth_moving(place)
        if moving:
            yield from moves(place.body, place.pose, place.corrected(place.open_axes), _digits(place))
            yield AGAIN
        yield from _to_prove(place, found, alpha, moving=moving)


def _is_worth_moving(place: Place) -> bool:
    """Say whether the largest error for its tolerance is surely an error."""
    worst = max(place.tolerances, key=lambda axis: abs(place.errors[axis]) / place.tolerances[axis])
    return worst in place.open_axes and abs(place.errors[worst]) > _WORTH_MOVING * place.u[worst]


def moves(body: Body, pose: FloorPose, wanted: FloorPose, digits: int) -> Iterator[str]:
    """Say how far each foot moves so that the fixture comes to stand where it should."""
    ways = [
        (round(to[0] - at[0], digits), round(to[1] - at[1], digits))
        for at, to in zip(body.feet_at(pose), body.feet_at(wanted), strict=True)
    ]
    if len(set(ways)) == 1:
        yield f"Move the whole fixture: {_way(ways[0], digits)}." if any(ways[0]) else LEAVE
        return
    for foot, way in enumerate(ways):
        if any(way):
            yield f"Move {body.name(foot)}: {_way(way, digits)}."
        else:
            yield f"Leave {body.name(foot)} where it is."


def _to_prove(place: Place, found: Callable[[], Extras], alpha: float, *, moving: bool) -> Iterator[str]:
    """Ask for what would prove the axes whose uncertainty is in the way."""

    def is_out_of_reach(axis: str, u: float) -> bool:
        return guard_band(u, alpha) > place.tolerances[axis]

    axes = [axis for axis in place.open_axes if is_out_of_reach(axis, place.u[axis]) or not moving]
    if not axes:
        return
    limits = np.array([place.tolerances[axis] for axis in axes])
    extra = found().for_proof(np.array([place.rows[axis] for axis in axes]), limits)
    with_it = dict(zip(axes, extra.u.tolist(), strict=True)) if extra else place.u
    worst = max(axes, key=lambda axis: place.u[axis] / place.tolerances[axis])
    hopeless = [axis for axis in axes if is_out_of_reach(axis, with_it[axis])]
    reaches = is_out_of_reach(worst, place.u[worst]) and worst not in hopeless
    helps = with_it[worst] < _WORTH_MEASURING * place.u[worst] or reaches
    if extra and helps:
        yield (
            f"Measure {extra.mark} to {place.body.name(extra.foot)} as well: {_WORDS[worst]} is then known "
            f"to {_amount(with_it[worst], worst)} instead of {_amount(place.u[worst], worst)} (one standard "
            "deviation)."
        )
    if hopeless:
        what = " and ".join(_WORDS[axis] for axis in hopeless)
        yield (
            f"Distances like these cannot prove {what}: use a better tape, or marks and points of the "
            "fixture that are surer and farther apart."
        )
    elif not helps:
        yield "Measure every distance a second time and give both: what was found is hardly more than chance."


def height_move(height: Height, verdict: Verdict | None) -> Iterator[str]:
    """Say how far to raise or lower the fixture, where what was found is surer than nothing."""
    if verdict is None or height.measured_mm is None or height.u_mm is None or verdict.verdict == "conforms":
        return
    off = height.measured_mm - height.nominal_mm
    if abs(off) > _WORTH_MOVING * height.u_mm:
        yield f"{'Lower' if off > 0 else 'Raise'} the fixture: {_amount(off, 'height_mm')}."
    else:
        yield "Measure the height by a surer way: what was found is no more than its uncertainty."


def tilt_move(axis: str, error_deg: float, u_deg: float) -> Iterator[str]:
    """Say how to tilt a fixture back: pitch is positive face down, roll with its own left side up."""
    if abs(error_deg) <= _WORTH_MOVING * u_deg:
        yield f"Measure the {axis} by a surer way: what was found is no more than its uncertainty."
    elif axis == "pitch":
        yield f"Tilt the face {'up' if error_deg > 0 else 'down'}: {_amount(error_deg, YAW)}."
    else:
        side = f"{'Lower' if error_deg > 0 else 'Raise'} the side on the fixture's own left"
        yield f"{side}: {_amount(error_deg, YAW)}."


def _digits(place: Place) -> int:
    """Return the decimals of a move: whole millimetres unless the tolerance is finer than hands are."""
    span = max(dist(a, b) for a in place.body.feet for b in place.body.feet)
    finest = min(
        radians(limit) * span if axis == YAW and span else limit for axis, limit in place.tolerances.items()
    )
    return 0 if finest >= 2.0 else 1


def _way(way: Point, digits: int) -> str:
    x, y = way
    parts = [f"{abs(x):,.{digits}f} mm {'forward' if x > 0 else 'back'}"] if x else []
    parts += [f"{abs(y):,.{digits}f} mm to the car's {'left' if y > 0 else 'right'}"] if y else []
    return " and ".join(parts)


def _amount(value: float, axis: str) -> str:
    return f"{abs(value):.2f}°" if axis == "yaw_deg" else f"{abs(value):,.1f} mm"


def _either(names: Sequence[str]) -> str:
    return " or ".join([", ".join(names[:-1]), names[-1]])
