"""Lengths as a person reads them: no sign, thousands separated by a comma."""

import math
from typing import Literal

Units = Literal["mm", "in"]

UNIT_NAMES: dict[Units, str] = {"mm": "millimetres", "in": "inches"}
_MM_PER_INCH = 25.4
_PARTS_OF_AN_INCH = 16


def length_figure(length_mm: float, units: Units = "mm") -> str:
    """Give the size of a length without its unit, e.g. '1,500', '1,499.5' or '59 1/16'.

    Millimetres to the nearest 0.1, inches to the nearest sixteenth. The sign is left out: on a sheet a word
    (ahead, behind, left, right) says it.
    """
    size_mm = abs(length_mm)
    if units == "mm":
        return f"{size_mm:,.1f}".removesuffix(".0")
    whole, part = divmod(round(size_mm / _MM_PER_INCH * _PARTS_OF_AN_INCH), _PARTS_OF_AN_INCH)
    if not part:
        return f"{whole:,}"
    common = math.gcd(part, _PARTS_OF_AN_INCH)
    fraction = f"{part // common}/{_PARTS_OF_AN_INCH // common}"
    return f"{whole:,} {fraction}" if whole else fraction
