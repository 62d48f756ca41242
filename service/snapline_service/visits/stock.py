"""Which physical fixtures of a site can stand where a procedure needs them on a day, and what stops it."""

from collections.abc import Iterable, Mapping, Sequence

import msgspec
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


class Mend(Struct, frozen=True):
    """What would remove a lack where it is: the kind of remedy, what it is done to, and how, in words."""

    kind: str
    subject: str
    text: str


class Lack(Struct, frozen=True):
    """One thing that stops a procedure, told by blockers, and the mends of which any one would be enough.

    ``place`` is what has to be filled, where a fixture from elsewhere would help too.
    """

    blockers: tuple[Blocker, ...]
    mends: tuple[Mend, ...] = ()
    place: Place | None = None


class Stock:
    """A site's assets as they are on one day. ``promised`` are those that another visit has, and when."""

    def __init__(
        self,
        assets: Iterable[Asset],
        shelf: Shelf,
        *,
        date: str,
        promised: Mapping[str, str],
        by_property: bool,
    ) -> None:
        self._shelf = shelf
        self._by_property = by_property
        self._date = date
        self.unusable: dict[str, Blocker] = {}
        self.usable: list[Asset] = []
        self._assets = sorted(assets, key=lambda asset: asset.id)
        for asset in self._assets:
            blocker = self._stopped(asset, promised)
            if blocker:
                self.unusable[asset.id] = blocker
            else:
                self.usable.append(asset)

    def assign(self, procedure: Procedure) -> tuple[list[UsedAsset], list[Lack]]:
        """Return the assets that stand in each stage, and what is lacking for the rest.

        Within a stage no asset stands twice; the source's named fixtures go first. What goes on standing
        where it stood in a stage before is lacking once.
        """
        used: list[UsedAsset] = []
        lacks: list[Lack] = []
        before: list[FixturePlacement] = []
        for stage in procedure.stages:
            places = [place for item in stage.placements for place in _places(stage.id, item)]
            found, lacking = self._fill(procedure.id, places)
            kept = {item.id for item in stage.placements if any(_is_kept(item, one) for one in before)}
            used += found
            lacks += [one for one in lacking if one.place is None or one.place.placement not in kept]
            before += stage.placements
        return used, lacks

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
                lacks.append(self._lack(procedure, place, own))
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

    def _lack(self, procedure: str, place: Place, grounds: Mapping[str, str]) -> Lack:
        """Say why nothing is left for a place, and which assets of the site a check would bring back."""
        here = [asset for asset in self._assets if asset.fixture in grounds]
        stopped = [self.unusable[asset.id] for asset in here if asset.id in self.unusable]
        told = [msgspec.structs.replace(blocker, procedure=procedure) for blocker in stopped]
        if not here:
            told = [self._none_here(procedure, place, grounds)]
        elif len(stopped) < len(here):
            name = self._shelf.fixtures[here[0].fixture].name
            text = f"{as_words(place.placement)} needs one more at the same time: {name}."
            subject = here[0].fixture
            told = [Blocker(kind="too_few", text=text, subject=subject, procedure=procedure), *told]
        checks = (self._check(asset) for asset in here if self._is_overdue(asset))
        return Lack(tuple(told), tuple(checks), place)

    def _none_here(self, procedure: str, place: Place, grounds: Mapping[str, str]) -> Blocker:
        wanted = [self._shelf.fixtures[name].name for name in grounds]
        wanted = wanted or [place.need.capability.replace("_", " ")]
        text = f"The site has no {place.role} for {as_words(place.placement)}: {' or '.join(wanted)}."
        return Blocker(kind="no_fixture", text=text, subject=place.need.capability, procedure=procedure)

    def _stopped(self, asset: Asset, promised: Mapping[str, str]) -> Blocker | None:
        if asset.condition != "in_service":
            kind, text = "out_of_service", f"{self.told(asset)} is out of service."
        elif asset.id in promised:
            kind, text = (
                "promised",
                f"{self.told(asset)} is promised to another visit on {promised[asset.id]}.",
            )
        elif asset.checked_until is not None and asset.checked_until < self._date:
            kind, text = "check_overdue", f"{self.told(asset)} was checked until {asset.checked_until} only."
        else:
            return None
        return Blocker(kind=kind, text=text, subject=asset.id, procedure=None)

    def _is_overdue(self, asset: Asset) -> bool:
        return asset.id in self.unusable and self.unusable[asset.id].kind == "check_overdue"

    def _check(self, asset: Asset) -> Mend:
        return Mend("check_asset", asset.id, f"Have {self.told(asset)} checked again.")

    def told(self, asset: Asset) -> str:
        """Return an asset as a person finds it on the shelf: by what it is and its serial."""
        fixture = self._shelf.fixtures.get(asset.fixture)
        return f"{fixture.name if fixture else asset.id} ({asset.serial})"


def as_words(name: str) -> str:
    """Return an id of the catalogue as words of a sentence."""
    return f"'{name.replace('_', ' ').replace('-', ' ')}'"


def _is_kept(item: FixturePlacement, before: FixturePlacement) -> bool:
    """Say whether the same fixture stands at the same place as in a stage before."""
    return (item.need, item.carrier, item.placement) == (before.need, before.carrier, before.placement)


def _places(stage: str, item: FixturePlacement) -> list[Place]:
    places = [Place(stage, item.id, "fixture", item.need)]
    if item.carrier:
        places.append(Place(stage, item.id, "carrier", item.carrier))
    return places
