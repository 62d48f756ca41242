"""The questions that can be asked about a car, and the answers each candidate allows."""

from collections.abc import Iterable, Mapping, Sequence

from msgspec import Struct

from snapline.wire.vehicles import CANNOT_TELL, Question, Vehicle
from snapline_service.vehicles.equipment import Equipment

_ATTRIBUTES = {
    "model": ("Which model is it?", "Read the badge on the tail or the registration document."),
    "drive_side": (
        "On which side is the steering wheel?",
        "Look into the car; left and right as seen by the driver.",
    ),
    "body": ("Which body does the car have?", "Look at the doors, the roof and the tail."),
    "market": ("For which market was the car built?", "Read the maker's plate or the registration document."),
    "model_year": (
        "Which model year is it?",
        "Read the maker's plate or position 10 of the VIN; the first registration may be later.",
    ),
}
_EASY_FIRST = ("model", "drive_side", "body")
_HARD = ("market", "model_year")


class Subject(Struct, frozen=True):
    """A candidate with what is known of its equipment and the model years that it may be of."""

    vehicle: Vehicle
    equipment: Equipment
    years: tuple[int, ...]

    def possible(self) -> dict[str, frozenset[str]]:
        """Return the possible answers by question."""
        vehicle = self.vehicle
        answers = {
            "model": frozenset([vehicle.model]),
            "drive_side": frozenset([vehicle.drive_side]),
            "body": frozenset([vehicle.body]),
            "market": frozenset(vehicle.markets),
            "model_year": frozenset(map(str, self.years)),
        }
        for trait in vehicle.traits:
            answers[f"trait:{trait.trait}"] = frozenset([trait.value])
        for option in vehicle.options:
            if option.choice:
                answers[f"choice:{option.choice}"] = frozenset(self.equipment.possible(option.choice))
            else:
                known = self.equipment.of(option.id).fitted
                answers[f"option:{option.id}"] = frozenset(("yes", "no") if known == "unknown" else (known,))
        return answers


def possible_answers(subjects: Sequence[Subject]) -> dict[str, dict[str, frozenset[str]]]:
    """Return the possible answers by candidate. A vehicle that does not list an option never has it."""
    answers = {subject.vehicle.id: subject.possible() for subject in subjects}
    options = {name for own in answers.values() for name in own if name.startswith("option:")}
    for own in answers.values():
        for name in options - own.keys():
            own[name] = frozenset(["no"])
    return answers


def order(possible: Mapping[str, Mapping[str, frozenset[str]]]) -> list[str]:
    """Return all questions, the easiest to see on the car first."""
    names = dict.fromkeys(name for own in possible.values() for name in own)
    others = sorted(name for name in names if name not in _ATTRIBUTES)
    kinds = ("trait:", "choice:", "option:")
    return [*_EASY_FIRST, *(name for kind in kinds for name in others if name.startswith(kind)), *_HARD]


def word(question: str, subjects: Sequence[Subject], answers: Sequence[str], decides: str) -> Question:
    """Return a question in words, with how to see the answer on the car."""
    kind, _, name = question.partition(":")
    if kind in _ATTRIBUTES:
        text, how_to_see = _ATTRIBUTES[kind]
    elif kind == "trait":
        text = f"Which is it: {name.replace('_', ' ').replace('-', ' ')}?"
        how_to_see = _joined(
            f"{trait.value}: {trait.how_to_see}"
            for s in subjects
            for trait in s.vehicle.traits
            if trait.trait == name
        )
    elif kind == "choice":
        text = f"Which {name.replace('_', ' ').replace('-', ' ')} is fitted?"
        how_to_see = _joined(
            f"{option.id} ({option.name}): {option.how_to_see}"
            for s in subjects
            for option in s.vehicle.options
            if option.choice == name
        )
    else:
        options = [option for s in subjects for option in s.vehicle.options if option.id == name]
        text = f"Is this fitted: {options[0].name}?"
        how_to_see = _joined(option.how_to_see for option in options)
    return Question(
        id=question, text=text, how_to_see=how_to_see, answers=(*answers, CANNOT_TELL), decides=decides
    )


def _joined(texts: Iterable[str]) -> str:
    return " ".join(dict.fromkeys(texts))[:2000]
