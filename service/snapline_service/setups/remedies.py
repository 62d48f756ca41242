"""What would let a fixture's tolerance be proven, found by setting it out again with other means."""

from collections.abc import Iterable, Iterator
from dataclasses import replace

from snapline_service.geometry.tapes import tape
from snapline_service.setups import setting_out_words as words
from snapline_service.setups.figures import limit
from snapline_service.setups.means import Means
from snapline_service.setups.stage_work import StageWork
from snapline_service.setups.standing import Standing
from snapline_service.setups.trials import Attempt

_LONG_TAPE_MM = 30_000.0
_CAREFUL_MM = 0.5
_TWO_STAGES = "Two stages: first marks about the fixture, then the fixture from them"


def what_would_do(work: StageWork, one: Standing, found: Attempt, unstated: tuple[str, ...]) -> Iterator[str]:
    """Yield what was tried and proves the tolerance: each by itself, or else all together.

    Two stages are laborious: they are named where nothing simpler does. Where only what nobody stated is in
    the way, that is said.
    """
    if found.covariance is not None and not found.proofs:
        return
    if found.proves:
        yield f"Measure on the car, and state how surely: {words.inputs(unstated)}."
        return
    trials = dict(_trials(work, one, found))
    if not trials:
        return
    if not work.proves(one, _all(work.means)):
        yield f"Set this fixture out by other means: all of it together would not do ({_told(trials)})."
        return
    simple = [text for text in trials if text != _TWO_STAGES and work.proves(one, trials[text])]
    if simple:
        yield from (f"{text}." for text in simple)
    elif _TWO_STAGES in trials and work.proves(one, trials[_TWO_STAGES]):
        yield f"{_TWO_STAGES}."
    else:
        yield f"Only all of it together: {_told(trials)}."


def _told(trials: Iterable[str]) -> str:
    return "; ".join(text[0].lower() + text[1:] for text in trials)


def _trials(work: StageWork, one: Standing, found: Attempt) -> Iterator[tuple[str, Means]]:
    means, best = work.means, _all(work.means)
    if any("the tape is" in reason for reasons in found.reasons for reason in reasons):
        yield (
            f"A tape of {_LONG_TAPE_MM / 1000:g} m",
            replace(means, tape=replace(means.tape, length_mm=_LONG_TAPE_MM)),
        )
    if means.tape.u_of_mm(3000.0) > best.tape.u_of_mm(3000.0):
        yield "A tape of class I", replace(means, tape=replace(best.tape, length_mm=means.tape.length_mm))
    if not means.auxiliary_marks:
        yield "Marks made by string from the car's own", replace(means, auxiliary_marks=True)
    if means.u_marking_mm > _CAREFUL_MM:
        yield f"Marks made to {limit(_CAREFUL_MM, means.units)}", replace(means, u_marking_mm=_CAREFUL_MM)
    if coarse := _coarse(work, one):
        text = f"Measuring {words.inputs(coarse)} on the car to {limit(_CAREFUL_MM, means.units)}"
        yield text, replace(means, greatest_u_mm=_CAREFUL_MM)
    if not means.two_stages:
        yield _TWO_STAGES, replace(means, two_stages=True)


def _coarse(work: StageWork, one: Standing) -> list[str]:
    """Return the dimensions that this fixture or its marks hang on and that are known less surely."""
    stated = work.inputs.standard_uncertainty
    used = {key for at in one.at.values() for axis in at for key, _ in axis.slopes}
    used |= {key for key in stated if key.startswith("vehicle.") and not key.startswith("vehicle.sensors.")}
    return sorted(key for key in used if key.endswith("_mm") and stated.get(key, 0.0) > _CAREFUL_MM)


def _all(means: Means) -> Means:
    """Return the best means: class I, every mark, two stages, careful marking and measuring."""
    best = tape("I", max(means.tape.length_mm, _LONG_TAPE_MM)).printed_in(means.units)
    careful_mm = min(means.u_marking_mm, _CAREFUL_MM)
    return Means(best, True, True, careful_mm, means.units, _CAREFUL_MM)
