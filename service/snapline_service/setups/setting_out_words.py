"""Verdicts of a setting-out in words: no sign, and only what the figures say."""

from collections.abc import Iterable
from math import ceil

from snapline_service.geometry.fixture_setting import GUARD, Proof
from snapline_service.geometry.setting_out import is_left_of
from snapline_service.setups.figures import Units, at_least, limit
from snapline_service.setups.standing import Standing
from snapline_service.setups.trials import Attempt


def provable(found: Attempt, unstated: tuple[str, ...]) -> bool | None:
    """Say whether the tolerance can be proven; None where that hangs on what nobody stated."""
    if found.covariance is None:
        return False
    if not found.proofs:
        return None
    if not found.proves:
        return False
    return None if unstated else True


def verdict(
    one: Standing, found: Attempt, is_provable: bool | None, unstated: tuple[str, ...], units: Units
) -> str:
    """Return the verdict as a sentence."""
    if found.covariance is None:
        names = [name for name, best in zip(one.names, found.found, strict=True) if best is None]
        return f"No two marks fix {_listed(names)}: see the reasons."
    if not found.proofs:
        return "No tolerance is stated, so there is nothing to prove."
    if is_provable is False:
        short = [_short(proof, units) for proof in found.proofs if proof.acceptance is None]
        return f"The tolerance cannot be proven with this instrument and these marks: {_listed(short)}."
    if is_provable is None:
        return f"It would be proven, but nobody stated how surely these are known: {inputs(unstated)}."
    return "The tolerance can be proven with this instrument and these marks."


def side(
    found_at: tuple[float, float], one: tuple[str, tuple[float, float]], two: tuple[str, tuple[float, float]]
) -> str:
    """Say on which side of the line between two marks a point is, because two circles meet twice."""
    way = "left" if is_left_of(found_at, one[1], two[1]) else "right"
    return f"{way} of the line from {one[0]} to {two[0]}, seen from {one[0]}"


def inputs(names: Iterable[str]) -> str:
    """Return names of inputs as a person says them."""
    return _listed([_input(name) for name in names])


def _input(name: str) -> str:
    parts = name.removeprefix("vehicle.").removeprefix("sensors.").split(".")
    axis = {"x_mm": "distance from the rear axle", "y_mm": "distance from the centreline", "z_mm": "height"}
    last = axis.get(parts[-1], parts[-1].rpartition("_")[0].replace("_", " "))
    return " ".join([*(part.replace("_", " ") for part in parts[:-1]), last])


def _short(proof: Proof, units: Units) -> str:
    needed = GUARD * proof.u
    if proof.axis == "yaw":
        return (
            f"yaw may be {proof.tolerance:g}° off and the guard band alone is {ceil(needed * 1000) / 1000:g}°"
        )
    allowed = limit(proof.tolerance, units)
    return f"{proof.axis} may be {allowed} off and the guard band alone is {at_least(needed, units)}"


def _listed(parts: list[str]) -> str:
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"
