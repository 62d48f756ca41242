"""Figures as they are printed: without a sign, in whole mm or sixteenths of an inch."""

from math import ceil, floor

from snapline_service.geometry.tapes import MM_PER_INCH, ROUNDING_MM, printed_mm
from snapline_service.sheets.lengths import Units, length_figure

__all__ = ["Units", "at_least", "length", "limit", "whole_limit"]

_SLACK = 1e-9


def length(value_mm: float, units: Units, *, whole: bool = False) -> str:
    """Return a length with its unit; ``whole`` rounds it to what a tape is set to."""
    shown_mm = printed_mm(value_mm, units) if whole else value_mm
    return f"{length_figure(shown_mm, units)} {units}"


def limit(value_mm: float, units: Units) -> str:
    """Return a tolerance with its unit, rounded down: to 0.1 mm or 0.01 in."""
    if units == "in":
        return f"{floor(value_mm / MM_PER_INCH * 100 + _SLACK) / 100:,.2f} in"
    return f"{floor(value_mm * 10 + _SLACK) / 10:,.1f} mm"


def whole_limit(value_mm: float, units: Units) -> str:
    """Return an allowance with its unit, rounded down to what a tape shows; finer if that leaves nothing."""
    step_mm = ROUNDING_MM[units]
    shown_mm = floor(value_mm / step_mm + _SLACK) * step_mm
    return length(shown_mm, units) if shown_mm else limit(value_mm, units)


def at_least(value_mm: float, units: Units) -> str:
    """Return what is needed with its unit, rounded up: to 0.1 mm or 0.01 in."""
    if units == "in":
        return f"{ceil(value_mm / MM_PER_INCH * 100 - _SLACK) / 100:,.2f} in"
    return f"{ceil(value_mm * 10 - _SLACK) / 10:,.1f} mm"
