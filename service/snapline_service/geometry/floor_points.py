"""Where a vehicle and a fixture touch the floor, and what cannot be."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import hypot

import numpy as np

from snapline_service.errors import InvalidValue
from snapline_service.geometry.plausibility import require_length
from snapline_service.geometry.values import Position

WHEELS = ("front_left", "front_right", "rear_left", "rear_right")
THINNEST = 0.01  # points nearer to a line than this share of their spread lie on it
MAX_RATE = 1e6
_RATE_RATIO = 1e3
_SAME_PLACE_MM = 1.0


@dataclass(frozen=True, slots=True)
class Contact:
    """Where a tyre stands, and its wheel rate in any unit that all four share."""

    x_mm: float
    y_mm: float
    z_mm: float
    rate: float = 1.0


def require_possible(contacts: Mapping[str, Contact], feet: Sequence[Position]) -> None:
    """Raise InvalidValue unless four tyres stand where a vehicle's do and there is a foot."""
    for name in WHEELS:
        if name not in contacts:
            raise InvalidValue(
                f"The {name} contact is missing.",
                pointer=f"/wheels/{name}",
                mend="Give all four: the plane of three says nothing of the floor's warp.",
            )
        _require_point(contacts[name], f"/wheels/{name}")
        rate = contacts[name].rate
        if not 0.0 < rate <= MAX_RATE:
            mend = "Give a rate above 0, or leave all four out."
            raise InvalidValue(
                f"A wheel rate of {rate:g} cannot be.", pointer=f"/wheels/{name}/rate", mend=mend
            )
    _require_wheels_apart(contacts)
    if not feet:
        raise InvalidValue("There is no foot.", pointer="/feet", mend="Give where the fixture stands.")
    for index, foot in enumerate(feet):
        _require_point(foot, f"/feet/{index}")
    for (_, one), (index, other) in combinations(enumerate(feet), 2):
        if hypot(one.x_mm - other.x_mm, one.y_mm - other.y_mm) < _SAME_PLACE_MM:
            raise InvalidValue(
                "Two feet stand in the same place.",
                pointer=f"/feet/{index}",
                mend="Give each foot once, with its own place.",
            )


def _require_point(point: Contact | Position, pointer: str) -> None:
    for field in ("x_mm", "y_mm", "z_mm"):
        require_length(getattr(point, field), f"{pointer}/{field}")


def _require_wheels_apart(contacts: Mapping[str, Contact]) -> None:
    for side in ("left", "right"):
        if contacts[f"front_{side}"].x_mm - contacts[f"rear_{side}"].x_mm < _SAME_PLACE_MM:
            raise InvalidValue(
                f"front_{side} does not stand ahead of rear_{side}.",
                pointer=f"/wheels/front_{side}/x_mm",
                mend="Give x positive forward, in mm.",
            )
    for end in ("front", "rear"):
        if contacts[f"{end}_left"].y_mm - contacts[f"{end}_right"].y_mm < _SAME_PLACE_MM:
            raise InvalidValue(
                f"{end}_left does not stand to the left of {end}_right.",
                pointer=f"/wheels/{end}_left/y_mm",
                mend="Give y positive to the left, in mm.",
            )
    places = np.array([(contacts[name].x_mm, contacts[name].y_mm) for name in WHEELS])
    greatest, least = np.linalg.svd(places - places.mean(axis=0), compute_uv=False)
    if least < THINNEST * greatest:
        mend = "Measure again where the tyres stand."
        raise InvalidValue("The contacts lie on one line.", pointer="/wheels", mend=mend)
    rates = [contacts[name].rate for name in WHEELS]
    if max(rates) > _RATE_RATIO * min(rates):
        mend = "Give all four rates in one unit."
        raise InvalidValue("One wheel rate is a thousand times another.", pointer="/wheels", mend=mend)
