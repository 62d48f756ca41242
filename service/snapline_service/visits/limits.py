"""Preparation limits held against what a bay's surveys say."""

from collections.abc import Iterator, Sequence

import numpy as np

from snapline.wire.catalogue import PreparationItem, Procedure
from snapline.wire.sites import Bay, FloorSurvey
from snapline.wire.visits import Blocker, LimitCheck
from snapline_service.visits.stock import Mend


def checks(procedure: Procedure, bay: Bay) -> Iterator[LimitCheck]:
    """Yield a verdict for every limit that a bay's stored surveys can say something about."""
    for item in procedure.preparation:
        if item.type == "limit" and item.item == "light":
            yield _check(procedure, bay, item, *_light(item, bay))
        elif item.type == "limit" and item.item == "floor_level":
            yield _check(procedure, bay, item, *_floor(item, bay))


def blockers(found: Sequence[LimitCheck]) -> list[Blocker]:
    """Return the limits that are not met as what blocks a procedure in a bay."""
    kinds = {"light": "light", "floor_level": "floor"}
    return [
        Blocker(kind=kinds[one.item], text=one.text, subject=one.bay, procedure=one.procedure)
        for one in found
        if one.verdict == "not_met"
    ]


def light_mends(procedure: Procedure, bay: Bay) -> Iterator[Mend]:
    """Yield what would bring a bay's light, which is stored, inside a procedure's limits."""
    for item in procedure.preparation:
        if item.type == "limit" and item.item == "light" and _light(item, bay)[0] == "not_met":
            dark = item.minimum is not None and (bay.light_min_lux or 0.0) < item.minimum
            text = f"{'Light' if dark else 'Shade'} the bay: {_light(item, bay)[1]}"
            yield Mend("mend_light", bay.id, text)


def slope_mm_per_m(survey: FloorSurvey) -> float:
    """Return the slope of the plane that fits a survey best."""
    points = np.array([(point.x_mm, point.y_mm, point.z_mm) for point in survey.points])
    sides = np.column_stack((np.ones(len(points)), points[:, :2] - points[:, :2].mean(axis=0)))
    coefficients = np.linalg.lstsq(sides, points[:, 2], rcond=None)[0]
    return float(1000 * np.hypot(coefficients[1], coefficients[2]))


def _light(item: PreparationItem, bay: Bay) -> tuple[str, str]:
    low, high = bay.light_min_lux, bay.light_max_lux
    if low is None or high is None:
        return "unknown", f"The light in {bay.name} is not stored: measure it. {_wanted(item)}"
    said = f"{bay.name} has {low:,.0f} to {high:,.0f} lux. {_wanted(item)}"
    below, above = (
        item.minimum is not None and low < item.minimum,
        item.maximum is not None and high > item.maximum,
    )
    return ("not_met" if below or above else "met"), said


def _floor(item: PreparationItem, bay: Bay) -> tuple[str, str]:
    if bay.floor is None:
        return "unknown", f"No floor survey of {bay.name} is stored: level it. {_wanted(item)}"
    if item.unit != "mm/m" or item.maximum is None:
        return "unknown", f"{item.text} Check it against the survey of {bay.name}."
    slope = slope_mm_per_m(bay.floor)
    said = f"{bay.name} slopes {slope:.1f} mm/m by the survey of {bay.floor.surveyed_on}. {_wanted(item)}"
    return ("met" if slope <= item.maximum else "not_met"), said


def _wanted(item: PreparationItem) -> str:
    parts = []
    if item.minimum is not None:
        parts.append(f"at least {item.minimum:,g}")
    if item.maximum is not None:
        parts.append(f"at most {item.maximum:,g}")
    return f"Asked for: {' and '.join(parts)} {item.unit or ''}".rstrip() + "."


def _check(procedure: Procedure, bay: Bay, item: PreparationItem, verdict: str, text: str) -> LimitCheck:
    return LimitCheck(
        bay=bay.id, procedure=procedure.id, item=item.item, verdict=verdict, text=text, source=item.source
    )
