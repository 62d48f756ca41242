"""What a repair disturbed: repair lines in, four answers per fitted system out."""

from typing import Annotated

from msgspec import Meta

from snapline.wire.common import Id, Label, SourceRef, Text, Wire
from snapline.wire.vocabulary import Change, ChangeAnswer, Extent, SystemKind

SCOPE_ANSWERS = ("called_for", "not_called_for", "conditional", "no_rule")
ScopeAnswer = Annotated[
    str,
    Meta(
        pattern=r"^[a-z][a-z0-9_]*$",
        description=(
            "called_for and not_called_for: a source says so; conditional: an open question decides; "
            "no_rule: nobody has said, look in the maker's procedure. Absence of a rule is never a 'no'."
        ),
        extra_json_schema={"x-extensible-enum": list(SCOPE_ANSWERS)},
    ),
]
YesNo = Annotated[
    str,
    Meta(
        pattern=r"^(yes|no|cannot_tell)$",
        description="yes, no or cannot_tell, which leaves the question open.",
    ),
]


class RepairLine(Wire, frozen=True, kw_only=True):
    """One line of a repair order: an operation by its id or by any trade term for it, and its extent."""

    operation: Label
    extent: Extent | None = None


class KnownOperation(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A repair line as understood."""

    line: int
    text: Label
    operation: Id
    name: Label
    extent: Extent | None


class UnknownOperation(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A repair line that the catalogue has no operation for, with the nearest terms that it does know."""

    line: int
    text: Label
    nearest: tuple[Label, ...]


class ScopeReason(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """What one repair line means for one system. Without a rule ``source`` is null."""

    operation: Id
    extent: Extent | None
    effect: ScopeAnswer
    reason: Text
    source: SourceRef | None
    question: str | None


class SystemScope(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """One system's answer with its reasons; a system that is not fitted has none.

    ``requirements`` are those that hold, ``undecided`` those that a question decides.
    """

    system: Id
    kind: SystemKind
    name: Label
    fitted: Annotated[str, Meta(description="yes, no or unknown.")]
    fitted_because: str
    answer: ScopeAnswer | None
    reasons: tuple[ScopeReason, ...]
    requirements: tuple[Id, ...]
    undecided: tuple[Id, ...]
    questions: tuple[str, ...]


class ScopeQuestion(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """Something to find out, by what decides about it: ``equipment``, ``operation`` or ``changed_car``."""

    id: str
    text: Text
    how_to_see: Text | None
    answers: tuple[str, ...]
    decides: Annotated[str, Meta(description="equipment, operation or changed_car.")]


class ChangedCarAnswer(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """What the maker says of a change to the car: allowed, refer_to_maker or no_rule."""

    change: Change
    answer: ChangeAnswer
    text: Text
    systems: tuple[Id, ...]
    source: SourceRef | None


class Scope(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """What the repair lines call for on this vehicle, and the questions that are open."""

    operations: tuple[KnownOperation, ...]
    unknown_operations: tuple[UnknownOperation, ...]
    systems: tuple[SystemScope, ...]
    changed_car: tuple[ChangedCarAnswer, ...]
    questions: tuple[ScopeQuestion, ...]
    notes: tuple[str, ...]


Answer = Annotated[str, Meta(min_length=1, max_length=120)]
Answers = Annotated[
    dict[str, Answer],
    Meta(max_length=200, description="Replies to questions, by question id; 'cannot_tell' is valid."),
]
OptionsFitted = Annotated[
    dict[Id, YesNo],
    Meta(max_length=200, description="Whether an option is fitted, by option id."),
]
ChangesOfCar = Annotated[
    dict[Change, YesNo],
    Meta(max_length=50, description="Whether the car was changed in this way."),
]
_NULL_REMOVES = "By its id what changes: null takes it out, and what is not named stays."
AnswersPatch = Annotated[dict[str, Answer | None], Meta(max_length=200, description=_NULL_REMOVES)]
OptionsFittedPatch = Annotated[dict[Id, YesNo | None], Meta(max_length=200, description=_NULL_REMOVES)]
ChangesOfCarPatch = Annotated[dict[Change, YesNo | None], Meta(max_length=50, description=_NULL_REMOVES)]
RepairLines = Annotated[tuple[RepairLine, ...], Meta(min_length=1, max_length=100)]
