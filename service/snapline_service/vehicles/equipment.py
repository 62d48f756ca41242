"""What is known of a vehicle's equipment, and what follows for its systems."""

from collections.abc import Iterable, Mapping

from msgspec import Struct

from snapline.wire.catalogue import Condition, VehicleDocument


class Known(Struct, frozen=True):
    """Whether an option is fitted, yes, no or unknown, and what says so."""

    fitted: str
    because: str


UNKNOWN = Known("unknown", "Nothing given says so.")


class Equipment:
    """The options of one vehicle as far as the facts settle them."""

    def __init__(self, vehicle: VehicleDocument) -> None:
        self._vehicle = vehicle
        self._known: dict[str, Known] = {}
        self.contradiction: str | None = None
        for option in vehicle.options:
            if option.availability == "standard":
                self.state(option.id, fitted=True, because="It is standard on this vehicle.")

    def state(self, option: str, *, fitted: bool, because: str) -> None:
        """Take in a fact. A fact against an earlier one is a contradiction."""
        said = Known("yes" if fitted else "no", because)
        before = self._known.setdefault(option, said)
        if before.fitted != said.fitted:
            self.contradiction = f"'{option}': {before.because} {said.because}"
        choice = self._choice_of(option)
        if fitted and choice:
            for other in self.members(choice):
                if other != option and other not in self._known:
                    self.state(other, fitted=False, because="Another of the same choice is fitted.")

    def state_all(self, fitted: Iterable[str], absent: Iterable[str], because: str) -> None:
        """Take in what one observation says of several options."""
        for option in fitted:
            self.state(option, fitted=True, because=because)
        for option in absent:
            self.state(option, fitted=False, because=because)

    def of(self, option: str) -> Known:
        """Return what is known of an option; the last one left of a choice is fitted."""
        known = self._known.get(option)
        choice = self._choice_of(option)
        if known is None and choice and self.possible(choice) == [option]:
            return Known("yes", "It is the only one of its choice that is left.")
        return known or UNKNOWN

    def members(self, choice: str) -> list[str]:
        """Return the options that exclude each other under a choice."""
        return [option.id for option in self._vehicle.options if option.choice == choice]

    def possible(self, choice: str) -> list[str]:
        """Return the options of a choice that may still be the fitted one."""
        members = self.members(choice)
        fitted = [name for name in members if name in self._known and self._known[name].fitted == "yes"]
        return fitted or [name for name in members if name not in self._known]

    def holds(self, condition: Condition | None) -> str:
        """Return whether a condition holds: yes, no or unknown."""
        if condition is None:
            return "yes"
        everything = [self.of(name).fitted for name in condition.all_of]
        everything += [_NOT[self.of(name).fitted] for name in condition.none_of]
        if condition.any_of:
            everything.append(_any([self.of(name).fitted for name in condition.any_of]))
        return _NOT[_any([_NOT[part] for part in everything])]

    def decisive(self) -> set[str]:
        """Return the options on which a system or a requirement depends."""
        conditions = [system.fitted_when for system in self._vehicle.systems]
        conditions += [need.when for system in self._vehicle.systems for need in system.requirements]
        return {name for c in conditions if c for name in (*c.all_of, *c.any_of, *c.none_of)}

    def _choice_of(self, option: str) -> str | None:
        return next((one.choice for one in self._vehicle.options if one.id == option), None)


_NOT: Mapping[str, str] = {"yes": "no", "no": "yes", "unknown": "unknown"}


def _any(parts: list[str]) -> str:
    if "yes" in parts:
        return "yes"
    return "unknown" if "unknown" in parts else "no"
