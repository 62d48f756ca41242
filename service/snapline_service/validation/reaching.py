"""What nobody can ever get to in a vehicle's document, and what is left open."""

from collections.abc import Callable, Iterable, Iterator
from itertools import combinations

from snapline.wire.catalogue import Condition, FixtureNeed, System, VehicleDocument
from snapline_service.planning.precedence import cycle, merged
from snapline_service.validation.doubt import Doubt

Served = Callable[[FixtureNeed], bool]


def unreachable(vehicle: VehicleDocument) -> Iterator[Doubt]:
    """Yield conditions that can never hold, rings of waiting, and procedures that nothing uses."""
    choices = {option.id: option.choice for option in vehicle.options if option.choice}
    after = {procedure.id: procedure.after_procedures for procedure in vehicle.procedures}
    used: set[str] = set()
    for number, system in enumerate(vehicle.systems):
        at = f"/systems/{number}"
        yield from _never([system.fitted_when], choices, f"{at}/fitted_when")
        for index, requirement in enumerate(system.requirements):
            here = f"{at}/requirements/{index}"
            if requirement.when:
                yield from _never([system.fitted_when, requirement.when], choices, f"{here}/when")
            for place, way in enumerate(requirement.alternatives):
                used.update(way.procedures)
                ring = cycle(merged([way.procedures], after))
                if ring:
                    text = f"'{way.name}' can never be done: {' waits for '.join((*ring, ring[0]))}."
                    pointer = f"{here}/alternatives/{place}/procedures"
                    yield Doubt("error", "WAITS_IN_RING", pointer, text, "Break the ring.")
    for number, procedure in enumerate(vehicle.procedures):
        if procedure.id not in used:
            text = f"No alternative uses '{procedure.name}'."
            mend = "Name it in an alternative, or remove it."
            yield Doubt("warning", "NEVER_USED", f"/procedures/{number}", text, mend)


def unserved(vehicle: VehicleDocument, served: Served) -> Iterator[Doubt]:
    """Yield placements that no fixture of the catalogue serves."""
    for number, procedure in enumerate(vehicle.procedures):
        for index, stage in enumerate(procedure.stages):
            for place, item in enumerate(stage.placements):
                for field, need in (("need", item.need), ("carrier", item.carrier)):
                    if need and not served(need):
                        at = f"/procedures/{number}/stages/{index}/placements/{place}/{field}"
                        text = f"No fixture of the catalogue serves '{need.capability}'."
                        mend = "Add the fixture, or a statement that one serves it."
                        yield Doubt("warning", "NOT_SERVED", at, text, mend)


def without_rules(vehicle: VehicleDocument) -> Iterator[Doubt]:
    """Yield systems that say nothing of what disturbs them, or call for what is not described."""
    for number, system in enumerate(vehicle.systems):
        yield from _system_rules(system, f"/systems/{number}")


def _system_rules(system: System, at: str) -> Iterator[Doubt]:
    if not system.disturbances:
        text = f"Nothing says when '{system.name}' has to be calibrated."
        mend = "Add the rules of its source."
        yield Doubt("warning", "NO_RULE", f"{at}/disturbances", text, mend)
    calls = any(rule.effect != "not_called_for" for rule in system.disturbances)
    if calls and not system.requirements:
        text = f"'{system.name}' may have to be calibrated, and nothing says how."
        yield Doubt("warning", "NO_REQUIREMENT", f"{at}/requirements", text, "Add what its source requires.")


def _never(conditions: Iterable[Condition | None], choices: dict[str, str], at: str) -> Iterator[Doubt]:
    given = [one for one in conditions if one]
    fitted = {name for one in given for name in one.all_of}
    absent = {name for one in given for name in one.none_of}
    apart = [
        pair
        for pair in combinations(sorted(fitted), 2)
        if pair[0] in choices and choices[pair[0]] == choices.get(pair[1])
    ]
    closed = [one for one in given if one.any_of and set(one.any_of) <= absent]
    if fitted & absent:
        reason = f"{_names(fitted & absent)} would be fitted and absent"
    elif apart:
        reason = f"{_names(apart[0])} exclude each other"
    elif closed:
        reason = f"none of {_names(closed[0].any_of)} may be fitted"
    else:
        return
    yield Doubt("error", "NEVER_HOLDS", at, f"This can never hold: {reason}.", "Correct the condition.")


def _names(names: Iterable[str]) -> str:
    return " and ".join(f"'{name}'" for name in sorted(names))
