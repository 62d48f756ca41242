"""Verdicts of a setting-out in words: no sign, and only what the figures say."""

from collections.abc import Sequence
from math import ceil

from snapline_service.geometry.fixture_setting import GUARD, Proof
from snapline_service.geometry.input_words import inputs_words, is_of_sensor, listed
from snapline_service.geometry.setting_out import is_left_of
from snapline_service.setups.figures import Units, at_least, limit
from snapline_service.setups.standing import Standing
from snapline_service.setups.trials import Attempt

_AXES = {"along": "along the aim line", "lateral": "to the side", "yaw": "in direction"}


def provable(found: Attempt, unstated: tuple[str, ...]) -> bool | None:
    """Say whether the tolerance can be proven; None where that hangs on what nobody stated."""
    if found.covariance is None:
        return False
    if not found.proofs:
        return None
    if not found.proves:
        return False
    return None if unstated else True


def verdict(one: Standing, found: Attempt, is_provable: bool | None, units: Units) -> str:
    """Return the verdict as a sentence; what to do about it stands in ``what_would_do``."""
    if found.covariance is None:
        names = [name for name, best in zip(one.names, found.found, strict=True) if best is None]
        return f"No two marks fix {listed(names)}: see the reasons."
    if not found.proofs:
        return "No tolerance is stated, so there is nothing to prove."
    if is_provable is False:
        short = [_short(proof, units) for proof in found.proofs if proof.acceptance is None]
        return f"The tolerance cannot be proven with this instrument and these marks: {listed(short)}."
    if is_provable is None:
        return "It would be proven, but nobody stated how surely some of the car's figures are known."
    return "The tolerance can be proven with this instrument and these marks."


def side(
    found_at: tuple[float, float], one: tuple[str, tuple[float, float]], two: tuple[str, tuple[float, float]]
) -> str:
    """Say on which side of the line between two marks a point is, because two circles meet twice."""
    way = "left" if is_left_of(found_at, one[1], two[1]) else "right"
    return f"{way} of the line from {one[0]} to {two[0]}, seen from {one[0]}"


def to_state(names: Sequence[str]) -> str:
    """Ask how surely inputs are known; a sensor sits where no tape reaches, so its maker is asked first."""
    asked = (
        ("measured on the car", [name for name in names if not is_of_sensor(name)]),
        ("from the maker's data, or measured", [name for name in names if is_of_sensor(name)]),
    )
    told = "; ".join(f"{how}: {inputs_words(chosen)}" for how, chosen in asked if chosen)
    return f"State how surely these are known, {told}."


def in_doubt(proof: Proof, units: Units) -> str:
    """Return how much of an axis the measuring alone leaves in doubt."""
    needed = GUARD * proof.u
    return f"{ceil(needed * 1000) / 1000:g}°" if proof.axis == "yaw" else at_least(needed, units)


def axis(proof: Proof) -> str:
    """Return an axis as a direction on the floor."""
    return _AXES[proof.axis]


def _short(proof: Proof, units: Units) -> str:
    allowed = f"{proof.tolerance:g}°" if proof.axis == "yaw" else limit(proof.tolerance, units)
    doubt = in_doubt(proof, units)
    return f"{axis(proof)}, {allowed} is allowed and the measuring alone leaves {doubt} in doubt"
