"""What a visit's order is made of: acts, the ways to set them up, waits and what handling costs.

Times are minutes from the beginning of the visit. Ids are compared, never read.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

Method = Literal["static", "dynamic", "scan_tool"]


@dataclass(frozen=True, slots=True)
class Item:
    """One fixture as it stands in a stage.

    ``spot`` is equal for two items only where they stand in the very same place and attitude to the car;
    ``carrier`` is the asset that holds the fixture up, if a separate one does.
    """

    asset: str
    spot: str
    carrier: str | None = None


@dataclass(frozen=True, slots=True)
class Standing:
    """A car lined up at one pose of its bay, and the fixtures that stand around it."""

    pose: str
    items: frozenset[Item]


@dataclass(frozen=True, slots=True)
class Mode:
    """One way to set up a static act: the pose, and what stands in each stage in turn."""

    pose: str
    stages: tuple[frozenset[Item], ...] = (frozenset(),)

    @property
    def standings(self) -> tuple[Standing, ...]:
        """What stands in each stage."""
        return tuple(Standing(self.pose, items) for items in self.stages)


@dataclass(frozen=True, slots=True)
class Wait:
    """Something that takes its time by itself while other work goes on, such as adhesive that cures."""

    id: str
    end_min: float
    start_min: float = 0.0


@dataclass(frozen=True, slots=True)
class Act:
    """A procedure to be done once, however many reasons call for it.

    ``minutes`` are its own, without handling of fixtures. ``after`` names acts that come first, as far as
    they are done in this visit at all. ``waits`` must be over before it starts; a ``dynamic`` act waits for
    every wait of the visit, named or not. A static act needs at least one mode, listed best first.
    """

    id: str
    method: Method
    minutes: float
    people: int = 1
    after: frozenset[str] = frozenset()
    waits: frozenset[str] = frozenset()
    modes: tuple[Mode, ...] = ()

    def held_by(self, waits: Iterable[Wait]) -> Wait | None:
        """Return the wait that ends last of those that the act has to see the end of."""
        return last(wait for wait in waits if self.method == "dynamic" or wait.id in self.waits)


@dataclass(frozen=True, slots=True)
class Handling:
    """Minutes that setting up takes, by what there is to do.

    ``line_up_min``: the car to a pose. ``stand_up_min``: fetch a fixture and set it out, and later take it
    away. ``swap_min``: put a fixture on a carrier that stands with another one, and set it out.
    ``shift_min``: set a standing fixture out at another spot.
    """

    line_up_min: float
    stand_up_min: float
    swap_min: float
    shift_min: float


def last(waits: Iterable[Wait]) -> Wait | None:
    """Return the wait that ends last."""
    return max(waits, key=lambda wait: (wait.end_min, wait.id), default=None)
