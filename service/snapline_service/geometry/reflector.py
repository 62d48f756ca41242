"""Peak radar cross-section of passive reflectors, far field, on boresight.

Sources: dihedral and triangular trihedral as in ESA's STEP forum (topic 14333), square trihedral and plate
as in Skolnik's Radar Handbook. Within a few metres the number is nominal, because the far field starts later.
"""

from dataclasses import dataclass
from math import isfinite, log10, pi, sqrt
from typing import Literal, get_args

from snapline_service.errors import InvalidValue, UnknownName
from snapline_service.geometry.names import nearest_name
from snapline_service.geometry.plausibility import require_size

SPEED_OF_LIGHT_M_PER_S = 299_792_458.0  # exact, by the definition of the metre
MAX_FREQUENCY_GHZ = 1_000.0

Shape = Literal["trihedral_triangular", "trihedral_square", "dihedral", "plate"]
SHAPES: tuple[str, ...] = get_args(Shape)

# The cross-section is factor * pi * (size * size)^2 / wavelength^2, the sizes being leg and leg or width and
# height.
_FACTORS = {"trihedral_triangular": 4.0 / 3.0, "trihedral_square": 12.0, "dihedral": 8.0, "plate": 4.0}


@dataclass(frozen=True, slots=True)
class CrossSection:
    """A radar cross-section, in square metres and in decibels above one, and the wavelength it holds at."""

    rcs_m2: float
    rcs_dbsm: float
    wavelength_mm: float


def cross_section(
    shape: str,
    frequency_ghz: float,
    *,
    leg_mm: float | None = None,
    width_mm: float | None = None,
    height_mm: float | None = None,
) -> CrossSection:
    """Return the peak cross-section of a reflector.

    A trihedral has a leg, from apex to corner and not the outer edge (6.02 dB apart); a dihedral or plate has
    width and height. Raises UnknownName for a shape, InvalidValue for a size that is missing, superfluous or
    impossible and for a frequency outside (0, 1000] GHz.
    """
    sizes = {"leg_mm": leg_mm, "width_mm": width_mm, "height_mm": height_mm}
    given = {field: size for field, size in sizes.items() if size is not None}
    fields = _size_fields(shape)
    _require_sizes(shape, fields, given)
    area_m2 = given[fields[0]] * given[fields[-1]] * 1e-6  # a leg is first and last
    wavelength_mm = _wavelength_mm(frequency_ghz)
    side_ratio_m = area_m2 / (wavelength_mm * 1e-3)
    rcs_m2 = _FACTORS[shape] * pi * side_ratio_m * side_ratio_m
    if rcs_m2 == 0.0:
        raise InvalidValue(
            f"A {shape} of this size reflects nothing at {frequency_ghz:g} GHz.",
            pointer=f"/{fields[0]}",
            mend="Give sizes that are not vanishingly small against the wavelength.",
        )
    return CrossSection(rcs_m2, 10.0 * log10(rcs_m2), wavelength_mm)


def leg_for(shape: str, rcs_dbsm: float, frequency_ghz: float) -> float:
    """Return the leg [mm] of the trihedral that has a cross-section.

    Raises UnknownName for a shape, InvalidValue for a shape without leg or for a figure that cannot be.
    """
    if _size_fields(shape) != ("leg_mm",):
        raise InvalidValue(
            f"A {shape} has no leg.",
            pointer="/shape",
            mend="Ask for trihedral_triangular or trihedral_square.",
        )
    if not (isfinite(rcs_dbsm) and abs(rcs_dbsm) <= 100.0):
        raise InvalidValue(
            f"A cross-section of {rcs_dbsm:g} dBsm cannot be used.",
            pointer="/rcs_dbsm",
            mend="Give a figure within +/-100 dBsm.",
        )
    wavelength_m = _wavelength_mm(frequency_ghz) * 1e-3
    return 1e3 * sqrt(wavelength_m * sqrt(10.0 ** (rcs_dbsm / 10.0) / (_FACTORS[shape] * pi)))


def _wavelength_mm(frequency_ghz: float) -> float:
    if not (isfinite(frequency_ghz) and 0.0 < frequency_ghz <= MAX_FREQUENCY_GHZ):
        raise InvalidValue(
            f"A frequency of {frequency_ghz:g} GHz cannot be used.",
            pointer="/frequency_ghz",
            mend=f"Give a frequency above 0 and at most {MAX_FREQUENCY_GHZ:g} GHz.",
        )
    return SPEED_OF_LIGHT_M_PER_S / frequency_ghz * 1e-6


def _size_fields(shape: str) -> tuple[str, ...]:
    if shape not in SHAPES:
        raise UnknownName(
            f"'{shape}' is not a reflector shape.", pointer="/shape", mend=nearest_name(shape, SHAPES)
        )
    return ("leg_mm",) if shape.startswith("trihedral") else ("width_mm", "height_mm")


def _require_sizes(shape: str, fields: tuple[str, ...], given: dict[str, float]) -> None:
    for field in (*fields, *given):
        if field not in given or field not in fields:
            raise InvalidValue(
                f"A {shape} {'has no' if field in given else 'needs'} {field}.",
                pointer=f"/{field}",
                mend=f"Give {' and '.join(fields)} and no other size.",
            )
        require_size(given[field], f"/{field}")
