"""What would let a fixture's tolerance be proven, found by setting it out again with other means."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from math import cos, radians, sin

from snapline.wire.setup_setting_out import GivenMark
from snapline_service.geometry.input_words import inputs_words, is_of_sensor, listed
from snapline_service.geometry.tapes import laser_meter, tape
from snapline_service.setups import setting_out_words as words
from snapline_service.setups.figures import limit
from snapline_service.setups.means import Means
from snapline_service.setups.stage_work import StageWork
from snapline_service.setups.standing import Standing
from snapline_service.setups.trials import Attempt

_LONG_TAPE_MM = 30_000.0
_LASER_MPE_MM, _LASER_MM = 1.0, 40_000.0
_CAREFUL_MM, _CAREFUL_DEG = 0.5, 0.01  # what a careful hand can do; common practice, no source
_WORTH_IT = 0.98  # what takes less off the worst axis is not worth the walk
_ABOUT_MM = 1200.0
_TWO_STAGES = "two stages (first marks about the fixture, then the fixture from them)"


def what_would_do(work: StageWork, one: Standing, found: Attempt, unstated: tuple[str, ...]) -> Iterator[str]:
    """Yield what was tried and proves the tolerance: each by itself, or else all together.

    What helps most comes first. Two stages are laborious: they are named where nothing simpler does. Where
    only what nobody stated is in the way, that is said.
    """
    if found.covariance is not None and not found.proofs:
        return
    if found.proves:
        yield words.to_state(unstated)
        return
    tried = {text: work.best(one, means) for text, means in _trials(work, one, found)}
    if not work.means.two_stages and not _proving(tried):  # tried late: it is as laborious to work out
        tried[_TWO_STAGES] = work.best(one, replace(work.means, two_stages=True))
    if alone := _proving(tried):
        yield f"{'This' if len(alone) == 1 else 'Any one of these'} would do: {'; '.join(alone)}."
        return
    together, ordered = work.best(one, _all(work.means)), _by_help(tried)
    if together.proves:
        yield f"Only all of it together would do: {'; '.join(ordered)}."
    else:
        yield from _beyond(work, one, together, [text for text in ordered if _helps(tried[text], found)])


def _proving(tried: Mapping[str, Attempt]) -> list[str]:
    return [text for text in _by_help(tried) if tried[text].proves]


def _by_help(tried: Mapping[str, Attempt]) -> list[str]:
    return sorted(tried, key=lambda text: tried[text].merit, reverse=True)


def _helps(tried: Attempt, found: Attempt) -> bool:
    *reached, worst = tried.merit
    *reached_before, worst_before = found.merit
    return reached > reached_before or worst > _WORTH_IT * worst_before


def _beyond(work: StageWork, one: Standing, together: Attempt, helping: list[str]) -> Iterator[str]:
    """Say how far tapes from these marks can get, and whether marks measured about the fixture would do."""
    units = work.means.units
    left = [proof for proof in together.proofs if proof.acceptance is None]
    doubts = [f"{words.in_doubt(proof, units)} {words.axis(proof)}" for proof in left] or ["everything"]
    if helping:
        told = "; ".join(helping)
        yield f"What helps, the most first: {told}; all together still leave in doubt {listed(doubts)}."
    careful = limit(_CAREFUL_MM, units)
    marks = f"four marks about the fixture, each measured in the car's own axes to {careful}"
    if work.with_marks(_about(one)).best(one, _all(work.means)).proves:
        yield f"With all of that, these would do: {marks}."
    else:
        yield f"Not even {marks}, would do: set it by its own sight, or by a laser line on the aim line."


def _about(one: Standing) -> dict[str, GivenMark]:
    pose = one.item.in_vehicle
    return {
        f"mark {step} about {one.item.id}": GivenMark(
            x_mm=pose.x_mm + _ABOUT_MM * cos(radians(step)),
            y_mm=pose.y_mm + _ABOUT_MM * sin(radians(step)),
            u_mm=_CAREFUL_MM,
        )
        for step in (45, 135, 225, 315)
    }


def _trials(work: StageWork, one: Standing, found: Attempt) -> Iterator[tuple[str, Means]]:
    means, best = work.means, _all(work.means)
    if any("the tape is" in reason for reasons in found.reasons for reason in reasons):
        yield (
            f"a tape of {_LONG_TAPE_MM / 1000:g} m",
            replace(means, tape=replace(means.tape, length_mm=_LONG_TAPE_MM)),
        )
    if means.tape.u_of_mm(3000.0) > best.tape.u_of_mm(3000.0):
        yield "a tape of class I", replace(means, tape=replace(best.tape, length_mm=means.tape.length_mm))
    laser = laser_meter(_LASER_MPE_MM, _LASER_MM).printed_in(means.units)
    if means.tape.u_of_mm(3000.0) > laser.u_of_mm(3000.0):
        name = f"a laser distance meter, {limit(_LASER_MPE_MM, means.units)} at most in error"
        yield name, replace(means, tape=laser)
    if not means.auxiliary_marks:
        yield "marks made by string from the car's own", replace(means, auxiliary_marks=True)
    if means.u_marking_mm > _CAREFUL_MM:
        yield f"marks made to {limit(_CAREFUL_MM, means.units)}", replace(means, u_marking_mm=_CAREFUL_MM)
    if coarse := _coarse(work, one, "_mm", _CAREFUL_MM):
        text = _known_better(coarse, limit(_CAREFUL_MM, means.units))
        yield text, replace(means, greatest_u_mm=_CAREFUL_MM)
    if coarse := _coarse(work, one, "_deg", _CAREFUL_DEG):
        yield _known_better(coarse, f"{_CAREFUL_DEG:g}°"), replace(means, greatest_u_deg=_CAREFUL_DEG)


def _known_better(coarse: list[str], to: str) -> str:
    how = "from the maker's data, or measured," if any(map(is_of_sensor, coarse)) else "measured on the car"
    return f"{inputs_words(coarse)} {how} to {to}"


def _coarse(work: StageWork, one: Standing, unit: str, careful: float) -> list[str]:
    """Return the figures in a unit that this fixture or its marks hang on and that are known less surely."""
    stated = work.inputs.standard_uncertainty
    used = {key for at in one.at.values() for axis in at for key, _ in axis.slopes}
    used |= {key for key in stated if key.startswith("vehicle.") and not is_of_sensor(key)}
    return sorted(key for key in used if key.endswith(unit) and stated.get(key, 0.0) > careful)


def _all(means: Means) -> Means:
    """Return the best means: class I, every mark, two stages, careful marking and measuring."""
    best = tape("I", max(means.tape.length_mm, _LONG_TAPE_MM)).printed_in(means.units)
    careful_mm = min(means.u_marking_mm, _CAREFUL_MM)
    return Means(best, True, True, careful_mm, means.units, _CAREFUL_MM, _CAREFUL_DEG)
