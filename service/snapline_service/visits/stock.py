"""Which physical fixtures of a site can stand where a procedure needs them on a day, and what stops it."""

from collections.abc import Iterable, Mapping, Sequence

import numpy as np
import scipy
from msgspec import Struct

from snapline.wire.catalogue import FixtureNeed, FixturePlacement, Procedure
from snapline.wire.sites import Asset
from snapline.wire.visits import Blocker, UsedAsset
from snapline_service.fixtures.matching import Shelf

_RANK = {"named": 0, "equivalent": 1, "by_property": 2}
_IMPOSSIBLE = 1e9


class Place(Struct, frozen=True):
    """A fixture or a carrier that a stage needs at one placement."""

    stage: str
    placement: str
    role: str
    need: FixtureNeed


class Lack(Struct, frozen=True):
    """One thing that stops a procedure, told by blockers of which it would be enough to remove any one.

    ``need`` is what has to stand there, where a fixture from elsewhere would help too.
    """

    blockers: tuple[Blocker, ...]
    need: FixtureNeed | None = None
    obstacles: tuple[str, ...] = ()


class Stock:
    """A site's assets as they are on one day. ``promised`` are those that another visit of that day has."""

    def __init__(
        self, assets: Iterable[Asset], shelf: Shelf, *, date: str, promised: frozenset[str], by_property: bool
    ) -> None:
        self._shelf = shelf
        self._by_property = by_property
        self.unusable: dict[str, Blocker] = {}
        self.usable: list[Asset] = []
        self._assets = sorted(assets, key=lambda asset: asset.id)
        for asset in self._assets:
            blocker = _stopped(asset, date, promised)
            if blocker:
                self.unusable[asset.id] = blocker
            else:
                self.usable.append(asset)

    def assign(self, procedure: Procedure) -> tuple[list[UsedAsset], list[Lack]]:
        """Return the assets that stand in each stage, and what is lacking for the rest.

        Within a stage no asset stands twice; the source's named fixtures go first.
        """
        used: list[UsedAsset] = []
        lacks: dict[Lack, None] = {}
        for stage in procedure.stages:
            places = [place for item in stage.placements for place in _places(stage.id, item)]
            found, lacking = self._fill(procedure.id, places)
            used += found
            lacks |= dict.fromkeys(lacking)
        return used, list(lacks)

    def grounds(self, need: FixtureNeed) -> Mapping[str, str]:
        """Return the fixtures that meet a need on a ground that the group allows, with that ground."""
        grounds = self._shelf.matches(need)
        return grounds if self._by_property else {n: g for n, g in grounds.items() if g != "by_property"}

    def _fill(self, procedure: str, places: Sequence[Place]) -> tuple[list[UsedAsset], list[Lack]]:
        grounds = [self.grounds(place.need) for place in places]
        cost = np.array(
            [
                [self._cost(place.need, own, asset) for asset in self.usable]
                for place, own in zip(places, grounds, strict=True)
            ]
        )
        cost = cost.reshape(len(places), len(self.usable))
        chosen = dict(
            zip(*(part.tolist() for part in scipy.optimize.linear_sum_assignment(cost)), strict=True)
        )
        used, lacks = [], []
        for row, (place, own) in enumerate(zip(places, grounds, strict=True)):
            column = chosen.get(row)
            if column is not None and cost[row, column] < _IMPOSSIBLE:
                used.append(self._used(procedure, place, own, self.usable[column]))
            else:
                lacks.append(Lack(tuple(self._missing(procedure, place, own)), place.need))
        return used, lacks

    @staticmethod
    def _cost(need: FixtureNeed, grounds: Mapping[str, str], asset: Asset) -> float:
        ground = grounds.get(asset.fixture)
        if ground is None:
            return _IMPOSSIBLE
        order = need.named.index(asset.fixture) if asset.fixture in need.named else 0
        return _RANK.get(ground, 2) * 1000 + order

    def _used(self, procedure: str, place: Place, grounds: Mapping[str, str], asset: Asset) -> UsedAsset:
        fixture = self._shelf.fixtures[asset.fixture]
        return UsedAsset(
            procedure=procedure,
            stage=place.stage,
            placement=place.placement,
            role=place.role,
            asset=asset.id,
            serial=asset.serial,
            fixture=fixture.id,
            fixture_name=fixture.name,
            fixture_kind=fixture.fixture_kind,
            match=grounds[asset.fixture],
        )

    def _missing(self, procedure: str, place: Place, grounds: Mapping[str, str]) -> list[Blocker]:
        """Say why nothing is left for a place."""
        here = [asset for asset in self._assets if asset.fixture in grounds]
        if not here:
            wanted = [self._shelf.fixtures[name].name for name in grounds] or [
                place.need.capability.replace("_", " ")
            ]
            text = f"The site has no {place.role} for '{place.placement}': {' or '.join(wanted)}."
            return [Blocker(kind="no_fixture", text=text, subject=place.need.capability, procedure=procedure)]
        stopped = [self.unusable[asset.id] for asset in here if asset.id in self.unusable]
        if len(stopped) < len(here):
            name = self._shelf.fixtures[here[0].fixture].name
            text = f"'{place.placement}' needs one more at the same time: {name}."
            return [Blocker(kind="too_few", text=text, subject=here[0].fixture, procedure=procedure)]
        return [Blocker(kind=b.kind, text=b.text, subject=b.subject, procedure=procedure) for b in stopped]


def _places(stage: str, item: FixturePlacement) -> list[Place]:
    places = [Place(stage, item.id, "fixture", item.need)]
    if item.carrier:
        places.append(Place(stage, item.id, "carrier", item.carrier))
    return places


def _stopped(asset: Asset, date: str, promised: frozenset[str]) -> Blocker | None:
    if asset.condition != "in_service":
        kind, text = "out_of_service", f"{asset.id} ({asset.serial}) is out of service."
    elif asset.checked_until is not None and asset.checked_until < date:
        kind, text = (
            "check_overdue",
            f"{asset.id} ({asset.serial}) was checked until {asset.checked_until} only.",
        )
    elif asset.id in promised:
        kind, text = "promised", f"{asset.id} ({asset.serial}) is promised to another visit on {date}."
    else:
        return None
    return Blocker(kind=kind, text=text, subject=asset.id, procedure=None)
