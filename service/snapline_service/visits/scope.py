"""The four answers: what the repair lines call for, do not call for, might, or have no rule about."""

import hashlib
from collections.abc import Iterable, Iterator, Mapping, Sequence

from msgspec import Struct

from snapline.offline import RevisionFile
from snapline.wire.catalogue import Disturbance, OperationDocument, Requirement, System
from snapline.wire.scope import (
    ChangedCarAnswer,
    KnownOperation,
    RepairLine,
    Scope,
    ScopeQuestion,
    ScopeReason,
    SystemScope,
)
from snapline.wire.vehicles import CANNOT_TELL
from snapline.wire.vocabulary import CHANGES
from snapline_service.errors import InvalidValue
from snapline_service.faults import nearest, pointer
from snapline_service.visits.fitted import FittedCar
from snapline_service.visits.operations import operations_of

# When lines disagree about a system the strongest answer holds. 'No rule' stands above 'no': nobody has said.
_STRONGEST_FIRST = ("called_for", "conditional", "no_rule", "not_called_for")
_NO_RULE = "No rule says whether this disturbs it: look in the maker's procedure."


def scope_of(
    file: RevisionFile,
    car: FittedCar,
    lines: Sequence[RepairLine],
    *,
    answers: Mapping[str, str],
    changes: Mapping[str, str],
) -> Scope:
    """Return the answers for every system. Raises InvalidValue for an extent that an operation never has."""
    operations = operations_of(file)
    understood = operations.understand(lines)
    asked = _Asked(operations.by_id, answers)
    systems = [_system(system, car, understood.known, asked) for system in car.vehicle.systems]
    replies = {name.removeprefix("change:"): reply for name, reply in answers.items() if "change:" in name}
    changes = {**replies, **changes}
    changed = tuple(_changes(car, changes))
    asked.keep(_intake_questions(car, changes, systems))
    elsewhere = ("option:", "choice:", "change:")
    unused = [name for name in answers if not name.startswith(elsewhere) and name not in asked.settled]
    notes = [f"'{question}' is not a question about this visit." for question in unused]
    deciding = {question for system in systems for question in system.questions}
    questions = [q for q in asked.questions.values() if q.id in deciding or q.decides == "changed_car"]
    return Scope(
        operations=understood.known,
        unknown_operations=understood.unknown,
        systems=tuple(systems),
        changed_car=changed,
        questions=tuple(questions),
        notes=(*understood.notes, *car.notes, *notes),
    )


class _Asked:
    """The questions that come up, each once, and the answers to them."""

    def __init__(self, operations: Mapping[str, OperationDocument], answers: Mapping[str, str]) -> None:
        self.operations = operations
        self.answers = answers
        self.questions: dict[str, ScopeQuestion] = {}
        self.settled: set[str] = set()

    def keep(self, questions: Iterable[ScopeQuestion]) -> tuple[str, ...]:
        """Ask these, and return their ids."""
        found = {question.id: question for question in questions}
        self.questions = {**self.questions, **found}
        return tuple(found)

    def reply(self, question: ScopeQuestion) -> str | None:
        """Return the answer, or None where the question stays open, which is then asked."""
        self.settled.add(question.id)
        answer = self.answers.get(question.id, CANNOT_TELL)
        if answer not in question.answers:
            detail = f"'{answer}' is no answer to '{question.id}'."
            mend = f"Answer one of: {', '.join(question.answers)}."
            raise InvalidValue(detail, pointer=pointer(["answers", question.id]), mend=mend)
        if answer == CANNOT_TELL:
            self.keep([question])
            return None
        return answer


class _Finding(Struct, frozen=True):
    """What one rule, or the lack of one, says; with the requirements that it leads to."""

    reason: ScopeReason
    requirements: tuple[Requirement, ...] = ()


def _system(system: System, car: FittedCar, lines: Sequence[KnownOperation], asked: _Asked) -> SystemScope:
    fitted = car.equipment.holds(system.fitted_when)
    findings = [] if fitted == "no" else [one for line in lines for one in _findings(system, line, asked)]
    answer = None if fitted == "no" else _strongest(finding.reason.effect for finding in findings)
    leading = [one for one in findings if one.reason.effect in ("called_for", "conditional")]
    questions = [one.reason.question or "" for one in leading] if answer == "conditional" else []
    if fitted == "unknown" and answer in ("called_for", "conditional"):
        answer = "conditional"
        questions += asked.keep(car.questions(system.fitted_when))
    wanted = {need.id: need for finding in leading for need in finding.requirements}
    holding = {name: car.equipment.holds(requirement.when) for name, requirement in wanted.items()}
    for name, holds in holding.items():
        if holds == "unknown":
            questions += asked.keep(car.questions(wanted[name].when))
    return SystemScope(
        system=system.id,
        kind=system.kind,
        name=system.name,
        fitted=fitted,
        fitted_because=_fitted_because(system, car),
        answer=answer,
        reasons=tuple(finding.reason for finding in findings),
        requirements=tuple(name for name, holds in holding.items() if holds == "yes"),
        undecided=tuple(name for name, holds in holding.items() if holds == "unknown"),
        questions=tuple(dict.fromkeys(filter(None, questions))),
    )


def _findings(system: System, line: KnownOperation, asked: _Asked) -> Iterator[_Finding]:
    """Yield what the rules say of one line; an unstated extent matters only where the rules differ by it."""
    rules = [rule for rule in system.disturbances if rule.operation == line.operation]
    extent = line.extent
    if extent is None and any(rule.extent for rule in rules):
        extents = asked.operations[line.operation].extents
        by_extent = {name: _rules_for(rules, name) for name in extents}
        effects = {
            tuple((r.effect, r.question, r.requirement) for r in found) for found in by_extent.values()
        }
        if len(effects) > 1:
            question = _extent_question(asked.operations[line.operation])
            extent = asked.reply(question)
            if extent is None:
                yield _open_extent(system, line, question, by_extent)
                return
        elif by_extent:
            extent = next(iter(by_extent))
    for rule in _rules_for(rules, extent):
        yield _finding(system, line, rule, asked)
    if not _rules_for(rules, extent):
        yield _Finding(_reason(line, "no_rule", _NO_RULE))


def _rules_for(rules: Sequence[Disturbance], extent: str | None) -> list[Disturbance]:
    """Return the rules of an extent, or else those that hold for any."""
    exact = [rule for rule in rules if rule.extent is not None and rule.extent == extent]
    return exact or [rule for rule in rules if rule.extent is None]


def _finding(system: System, line: KnownOperation, rule: Disturbance, asked: _Asked) -> _Finding:
    effect, question = rule.effect, None
    if effect == "conditional" and rule.question:
        asking = _rule_question(line, rule.question)
        question = asking.id
        effect = {"yes": "called_for", "no": "not_called_for", None: "conditional"}[asked.reply(asking)]
    reason = ScopeReason(
        operation=line.operation,
        extent=line.extent,
        effect=effect,
        reason=rule.reason,
        source=rule.source,
        question=question,
    )
    return _Finding(reason, _requirements(system, [rule]))


def _open_extent(
    system: System, line: KnownOperation, question: ScopeQuestion, by_extent: Mapping[str, list[Disturbance]]
) -> _Finding:
    rules = [rule for found in by_extent.values() for rule in found]
    called = [rule for rule in rules if rule.effect != "not_called_for"]
    if not called:  # some extents say no and of the others nobody has said
        return _Finding(_reason(line, "no_rule", _NO_RULE))
    reason = _reason(line, "conditional", "It depends on the extent of the work.", question.id)
    return _Finding(reason, _requirements(system, called))


def _requirements(system: System, rules: Iterable[Disturbance]) -> tuple[Requirement, ...]:
    """Return what the rules lead to: the requirement that each names, or all of the system's."""
    named = {rule.requirement for rule in rules}
    return tuple(one for one in system.requirements if None in named or one.id in named)


def _reason(line: KnownOperation, effect: str, text: str, question: str | None = None) -> ScopeReason:
    return ScopeReason(
        operation=line.operation,
        extent=line.extent,
        effect=effect,
        reason=text,
        source=None,
        question=question,
    )


def _strongest(effects: Iterable[str]) -> str:
    found = set(effects)
    return next((effect for effect in _STRONGEST_FIRST if effect in found), "no_rule")


def _fitted_because(system: System, car: FittedCar) -> str:
    condition = system.fitted_when
    if condition is None:
        return "Every vehicle of this entry has it."
    names = dict.fromkeys((*condition.all_of, *condition.any_of, *condition.none_of))
    said = [f"{car.name_of(name)}: {car.equipment.of(name).because}" for name in names]
    return " ".join(said)


def _rule_question(line: KnownOperation, text: str) -> ScopeQuestion:
    """Return a rule's question. Rules that ask the same about the same work ask it once."""
    tag = hashlib.sha256(text.encode()).hexdigest()[:8]
    answers = ("yes", "no", CANNOT_TELL)
    name = f"rule:{line.operation}:{tag}"
    return ScopeQuestion(id=name, text=text, how_to_see=None, answers=answers, decides="operation")


def _extent_question(operation: OperationDocument) -> ScopeQuestion:
    return ScopeQuestion(
        id=f"extent:{operation.id}",
        text=f"To what extent: {operation.name}?",
        how_to_see="Read the repair order, or ask who did the work.",
        answers=(*operation.extents, CANNOT_TELL),
        decides="operation",
    )


def _changes(car: FittedCar, changes: Mapping[str, str]) -> Iterator[ChangedCarAnswer]:
    """Yield what the maker says of every change that the car has; never a 'no' where nobody has said."""
    for change in (name for name, changed in changes.items() if changed == "yes"):
        rules = [rule for rule in car.vehicle.changed_car if rule.change == change]
        for rule in rules:
            yield ChangedCarAnswer(
                change=change, answer=rule.answer, text=rule.text, systems=rule.systems, source=rule.source
            )
        if not rules:
            yield ChangedCarAnswer(
                change=change, answer="no_rule", text=_no_rule_of(change), systems=(), source=None
            )


def _no_rule_of(change: str) -> str:
    meant = "" if change in CHANGES else f"'{change}' is no usual word. {nearest(change, list(CHANGES))} "
    return f"{meant}The catalogue has no rule about this change: look in the maker's procedure."


_INTAKE = {
    "ride_height": "Is the ride height other than as built?",
    "tyre_size": "Are the tyres of another size than on the door pillar label, or unequal?",
    "glass_not_original": "Is the glass before a sensor other than the maker's own?",
    "bracket_not_original": "Is a sensor's bracket other than the maker's own?",
    "cover_repaired": "Was the cover before a radar repaired or filled?",
    "cover_thickly_painted": "Was the cover before a radar painted more than once?",
    "bumper_aftermarket": "Is a bumper not the maker's own?",
    "mirror_aftermarket": "Is a door mirror not the maker's own?",
    "tow_bar": "Is a tow bar fitted that the car was not built with?",
}


def _intake_questions(
    car: FittedCar, changes: Mapping[str, str], systems: Sequence[SystemScope]
) -> Iterator[ScopeQuestion]:
    """Yield what must be asked about the car at intake when anything may be calibrated at all."""
    if not any(one.answer in ("called_for", "conditional") for one in systems):
        return
    stated = {rule.change: rule.text for rule in car.vehicle.changed_car}
    for change in CHANGES:
        if changes.get(change, CANNOT_TELL) == CANNOT_TELL:
            yield ScopeQuestion(
                id=f"change:{change}",
                text=_INTAKE[change],
                how_to_see=stated.get(change),
                answers=("yes", "no", CANNOT_TELL),
                decides="changed_car",
            )
