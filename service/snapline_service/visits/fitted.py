"""What is fitted to the car of a visit, from its options, build codes and answers."""

from collections.abc import Mapping

from snapline.wire.catalogue import Condition, VehicleDocument
from snapline.wire.scope import ScopeQuestion
from snapline.wire.vehicles import CANNOT_TELL
from snapline_service.errors import InvalidValue, UnknownName
from snapline_service.faults import nearest, pointer
from snapline_service.vehicles.asking import Subject, word
from snapline_service.vehicles.equipment import Equipment


class FittedCar:
    """A vehicle with what is known of its equipment, and the questions that its conditions raise."""

    def __init__(
        self,
        vehicle: VehicleDocument,
        *,
        options: Mapping[str, str],
        build_codes: tuple[str, ...],
        answers: Mapping[str, str],
    ) -> None:
        self.vehicle = vehicle
        self.equipment = Equipment(vehicle)
        self.notes: list[str] = []
        self._take_options(options)
        self._take_build_codes(build_codes)
        for question, answer in answers.items():
            self._take_answer(question, answer)
        if self.equipment.contradiction:
            detail = f"What is fitted contradicts itself: {self.equipment.contradiction}"
            raise InvalidValue(
                detail, pointer="/options", mend="Look at the car again and leave one of them out."
            )

    def name_of(self, option_id: str) -> str:
        """Return an option's name; the id of one that the entry does not have."""
        names = (one.name for one in self.vehicle.options if one.id == option_id)
        return next(names, option_id)

    def questions(self, condition: Condition | None) -> list[ScopeQuestion]:
        """Return the questions about unknown options on which a condition depends."""
        if condition is None:
            return []
        names = dict.fromkeys((*condition.all_of, *condition.any_of, *condition.none_of))
        open_names = [name for name in names if self.equipment.of(name).fitted == "unknown"]
        return list({one.id: one for one in map(self._question, open_names)}.values())

    def _question(self, name: str) -> ScopeQuestion:
        option = next(one for one in self.vehicle.options if one.id == name)
        if option.choice:
            identity, answers = f"choice:{option.choice}", self.equipment.possible(option.choice)
        else:
            identity, answers = f"option:{name}", ["yes", "no"]
        subject = Subject(self.vehicle, self.equipment, ())  # type: ignore[arg-type] # only its options are read
        asked = word(identity, [subject], answers, "equipment")
        return ScopeQuestion(
            id=asked.id,
            text=asked.text,
            how_to_see=asked.how_to_see,
            answers=asked.answers,
            decides="equipment",
        )

    def _take_options(self, options: Mapping[str, str]) -> None:
        known = [option.id for option in self.vehicle.options]
        for name, fitted in options.items():
            if name not in known:
                detail = f"The vehicle has no option '{name}'."
                raise UnknownName(detail, pointer=pointer(["options", name]), mend=nearest(name, known))
            if fitted != CANNOT_TELL:
                said = f"The request says {fitted} to {self.name_of(name)}."
                self.equipment.state(name, fitted=fitted == "yes", because=said)

    def _take_build_codes(self, build_codes: tuple[str, ...]) -> None:
        known = {code.code: code for code in self.vehicle.build_codes}
        for name in build_codes:
            if name in known:
                code = known[name]
                self.equipment.state_all(code.fitted, code.absent, f"Build code {name} says so.")
            else:
                self.notes.append(f"The vehicle's entry does not know build code {name}.")

    def _take_answer(self, question: str, answer: str) -> None:
        kind, _, name = question.partition(":")
        said = f"The answer about {self.name_of(answer if kind == 'choice' else name)} says so."
        if answer == CANNOT_TELL:
            return
        if kind == "choice" and answer in self.equipment.members(name):
            self.equipment.state(answer, fitted=True, because=said)
        elif kind == "option" and any(option.id == name for option in self.vehicle.options):
            _require_yes_or_no(question, answer)
            self.equipment.state(name, fitted=answer == "yes", because=said)
        elif kind in ("choice", "option"):
            self.notes.append(f"'{question}' = '{answer}' says nothing about this vehicle.")


def _require_yes_or_no(question: str, answer: str) -> None:
    if answer not in ("yes", "no"):
        detail = f"'{answer}' is no answer to '{question}'."
        raise InvalidValue(
            detail, pointer=pointer(["answers", question]), mend="Answer yes, no or cannot_tell."
        )
