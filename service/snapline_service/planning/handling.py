"""What has to be handled between one layout of fixtures and the next.

Only what a stage needs may stand in it: anything else could be in the way or in a sensor's view. So the work
depends on nothing but what stands before, which is what makes the search in ``search.py`` possible.
"""

from dataclasses import dataclass

from snapline_service.planning.values import Handling, Item, Standing


@dataclass(frozen=True, slots=True)
class Change:
    """The handling before a stage, fixture by fixture; ``taken_away`` names what is no longer needed."""

    pose: str
    lined_up: bool
    stood_up: tuple[Item, ...]
    swapped: tuple[Item, ...]
    shifted: tuple[Item, ...]
    kept: tuple[Item, ...]
    taken_away: tuple[Item, ...]

    def minutes(self, handling: Handling) -> float:
        """Return how long it takes; taking away is counted where the fixture is stood up."""
        return (
            self.lined_up * handling.line_up_min
            + len(self.stood_up) * handling.stand_up_min
            + len(self.swapped) * handling.swap_min
            + len(self.shifted) * handling.shift_min
        )


def change(standing: Standing | None, wanted: Standing) -> Change:
    """Say what it takes to get from what stands (None: the car is in no bay yet) to what is wanted.

    A car at another pose leaves every fixture at the wrong place: it is at hand, but has to be set out again.
    """
    there = standing.items if standing else frozenset()
    same_pose = standing is not None and standing.pose == wanted.pose
    kept = wanted.items & there if same_pose else frozenset()
    mounted = {(item.asset, item.carrier) for item in there}
    carriers = {item.carrier for item in there} - {None}
    todo = wanted.items - kept
    shifted = {item for item in todo if (item.asset, item.carrier) in mounted}
    swapped = {item for item in todo - shifted if item.carrier in carriers}
    assets = {item.asset for item in wanted.items}
    return Change(
        pose=wanted.pose,
        lined_up=not same_pose,
        stood_up=tuple(sorted(todo - shifted - swapped, key=_name)),
        swapped=tuple(sorted(swapped, key=_name)),
        shifted=tuple(sorted(shifted, key=_name)),
        kept=tuple(sorted(kept, key=_name)),
        taken_away=tuple(sorted((item for item in there if item.asset not in assets), key=_name)),
    )


def _name(item: Item) -> tuple[str, str]:
    return item.asset, item.spot
