"""The choice among a requirement's alternatives at one site."""

from collections.abc import Mapping, Sequence

from msgspec import Struct

from snapline.wire.catalogue import Alternative, Procedure, Requirement, System, VehicleDocument
from snapline.wire.scope import Scope
from snapline.wire.visits import Blocker, ChosenWay, RejectedWay
from snapline_service.errors import InvalidValue, UnknownName
from snapline_service.faults import nearest, pointer
from snapline_service.planning import choice as planning
from snapline_service.planning.choice import Choice
from snapline_service.visits.stock import Lack


class Need(Struct, frozen=True):
    """A requirement that the visit has to meet, for certain or only if an open question says so."""

    system: System
    requirement: Requirement
    conditional: bool


def needs_of(vehicle: VehicleDocument, scope: Scope, *, plan_conditional: bool) -> list[Need]:
    """Return what is to be met; what depends on an open choice of equipment is left to a question."""
    systems = {system.id: system for system in vehicle.systems}
    needs = []
    for one in scope.systems:
        conditional = one.answer == "conditional"
        if one.answer == "called_for" or (conditional and plan_conditional):
            system = systems[one.system]
            wanted = [need for need in system.requirements if need.id in one.requirements]
            needs += [Need(system, requirement, conditional) for requirement in wanted]
    return needs


def require_known_preferences(prefer: Mapping[str, str], vehicle: VehicleDocument) -> None:
    """Raise UnknownName or InvalidValue for a preference that the vehicle's entry does not have."""
    requirements = {one.id: one for system in vehicle.systems for one in system.requirements}
    for name, wanted in prefer.items():
        if name not in requirements:
            detail = f"The vehicle has no requirement '{name}'."
            mend = nearest(name, list(requirements))
            raise UnknownName(detail, pointer=pointer(["prefer", name]), mend=mend)
        ways = [way.id for way in requirements[name].alternatives]
        if wanted not in ways:
            detail = f"'{name}' has no alternative '{wanted}'."
            raise InvalidValue(detail, pointer=pointer(["prefer", name]), mend=nearest(wanted, ways))


def choose(
    needs: Sequence[Need],
    lacks: Mapping[str, Sequence[Lack]],
    prefer: Mapping[str, str],
    procedures: Mapping[str, Procedure],
) -> tuple[Choice, tuple[ChosenWay, ...]]:
    """Take for each need the preferred alternative, or the first in the source's order that is possible.

    ``lacks`` are those of each procedure at this site.
    """
    blockers = {name: tuple(one for lack in found for one in lack.blockers) for name, found in lacks.items()}
    options = {need.requirement.id: _options(need, blockers, prefer) for need in needs}
    requirements = [
        planning.Requirement(name, tuple(_alternative(way) for way in found))
        for name, found in options.items()
    ]
    after = {name: procedure.after_procedures for name, procedure in procedures.items()}
    choice = planning.choose(requirements, after)
    return choice, tuple(_chosen(need, options[need.requirement.id], choice, prefer) for need in needs)


class _Option(Struct, frozen=True):
    """An alternative with what stops it here."""

    way: Alternative
    stopped: tuple[Blocker, ...]


def _options(
    need: Need, blockers: Mapping[str, Sequence[Blocker]], prefer: Mapping[str, str]
) -> list[_Option]:
    """Return the alternatives in the source's order, behind the one that is preferred."""
    preferred = prefer.get(need.requirement.id)
    ways = sorted(need.requirement.alternatives, key=lambda way: way.id != preferred)
    return [
        _Option(way, tuple(dict.fromkeys(one for name in way.procedures for one in blockers.get(name, ()))))
        for way in ways
    ]


def _alternative(option: _Option) -> planning.Alternative:
    return planning.Alternative(option.way.id, option.way.procedures, blocked=bool(option.stopped))


def _chosen(need: Need, options: Sequence[_Option], choice: Choice, prefer: Mapping[str, str]) -> ChosenWay:
    name = need.requirement.id
    taken = next((one.way for one in options if one.way.id == choice.taken.get(name)), None)
    return ChosenWay(
        system=need.system.id,
        requirement=name,
        conditional=need.conditional,
        alternative=taken.id if taken else None,
        name=taken.name if taken else None,
        because=_because(taken, options, choice, prefer.get(name)),
        procedures=taken.procedures if taken else (),
        rejected=tuple(_rejected(name, one, choice) for one in options if one.way is not taken),
    )


def _rejected(requirement: str, option: _Option, choice: Choice) -> RejectedWay:
    way = option.way
    found = [one for one in choice.rejected if (one.requirement, one.alternative) == (requirement, way.id)]
    because = "It is blocked here." if option.stopped else "Another alternative goes before it."
    if found and found[0].because == "contradicts":
        because = f"With what is done besides there is no order: {' before '.join(found[0].ring)}."
    return RejectedWay(alternative=way.id, name=way.name, because=because, blockers=option.stopped)


def _because(
    taken: Alternative | None, options: Sequence[_Option], choice: Choice, preferred: str | None
) -> str:
    if taken is None and choice.ring:
        return f"The catalogue contradicts itself: {' before '.join(choice.ring)}, and so on round."
    if taken is None:
        return "Every alternative is blocked here."
    if taken.id == preferred:
        return "The request prefers it."
    if taken is options[0].way:
        return "The source names it first."
    return "It is the first in the source's order that is possible here."
