"""What measures a distance on the floor, and how surely.

Tapes are those of Directive 2014/32/EU, annex X (MI-008): the maximum permissible error of a length is
a + b L mm, with L in metres rounded up to the next whole one. A laser distance meter states one figure.
"""

from dataclasses import dataclass, replace
from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray

from snapline_service.errors import InvalidValue, UnknownName
from snapline_service.geometry.names import nearest_name
from snapline_service.geometry.plausibility import require_size

Array = NDArray[np.float64]
TapeClass = Literal["I", "II", "III"]
TAPE_CLASSES: tuple[str, ...] = get_args(TapeClass)

_A_MM = {"I": 0.1, "II": 0.3, "III": 0.6}
_B_MM_PER_M = {"I": 0.1, "II": 0.2, "III": 0.4}
READING_MM = 0.5  # standard uncertainty of holding and reading; common practice, no source
MM_PER_INCH = 25.4
ROUNDING_MM = {"mm": 1.0, "in": MM_PER_INCH / 16}  # figures are printed in whole mm or 1/16 in

# A length that is whole metres but for rounding must not count as the next metre.
_METRE_SLACK = 1e-9


@dataclass(frozen=True, slots=True)
class Tape:
    """A tape or a laser distance meter: maximum permissible error ``a_mm`` + ``b_mm_per_m`` L.

    ``length_mm`` is the longest distance that it measures in one go. ``rounding_mm`` is the step in which
    the figure to be set is printed; 0 where it is not rounded.
    """

    length_mm: float
    a_mm: float
    b_mm_per_m: float = 0.0
    rounding_mm: float = 0.0

    def mpe_mm(self, distances_mm: Array) -> Array:
        """Return the maximum permissible error of each distance."""
        metres = np.ceil(distances_mm / 1000.0 - _METRE_SLACK)
        return np.asarray(self.a_mm + self.b_mm_per_m * metres)

    def u_mm(self, distances_mm: Array) -> Array:
        """Return each distance's standard uncertainty: mpe / sqrt(3), reading, rounding (rectangular)."""
        fixed = READING_MM**2 + self.rounding_mm**2 / 12.0
        return np.asarray(np.sqrt(self.mpe_mm(distances_mm) ** 2 / 3.0 + fixed))

    def u_of_mm(self, distance_mm: float) -> float:
        """Return the standard uncertainty of one distance."""
        return float(self.u_mm(np.array([distance_mm]))[0])

    def printed_in(self, units: str) -> "Tape":
        """Return the same instrument for figures printed in whole mm or in 1/16 in."""
        return replace(self, rounding_mm=ROUNDING_MM[units])


def tape(tape_class: str, length_mm: float) -> Tape:
    """Return a tape by its class. Raises UnknownName for a class, InvalidValue for a length."""
    if tape_class not in TAPE_CLASSES:
        raise UnknownName(
            f"'{tape_class}' is not a class of tape.",
            pointer="/tape/class",
            mend=nearest_name(tape_class, TAPE_CLASSES),
        )
    require_size(length_mm, "/tape/length_mm")
    return Tape(length_mm, _A_MM[tape_class], _B_MM_PER_M[tape_class])


def laser_meter(mpe_mm: float, length_mm: float) -> Tape:
    """Return a laser distance meter by its stated error at any distance. Raises InvalidValue."""
    require_size(mpe_mm, "/tape/mpe_mm")
    require_size(length_mm, "/tape/length_mm")
    return Tape(length_mm, mpe_mm)


def instrument(tape_class: str | None, mpe_mm: float | None, length_mm: float) -> Tape:
    """Return the instrument that is described: exactly one of class and error. Raises InvalidValue."""
    if (tape_class is None) == (mpe_mm is None):
        raise InvalidValue(
            "A tape has a class, a laser distance meter has mpe_mm.",
            pointer="/tape/class" if tape_class is None else "/tape/mpe_mm",
            mend="Give one of the two.",
        )
    return tape(tape_class, length_mm) if tape_class else laser_meter(mpe_mm or 0.0, length_mm)


def printed_mm(distance_mm: float, units: str) -> float:
    """Return a distance as it is printed, in mm: rounded to the step of the units."""
    step = ROUNDING_MM[units]
    return round(distance_mm / step) * step
