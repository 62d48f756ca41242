"""The cheapest set of things that would let a site do what it cannot do today."""

from collections.abc import Iterable, Iterator, Mapping, Sequence

import msgspec
from msgspec import Struct

from snapline.wire.catalogue import FixtureNeed
from snapline.wire.sites import Asset, SiteDocument
from snapline.wire.visits import Remedy, RemedyEffort
from snapline_service.planning.remedies import Way, cheapest_remedies
from snapline_service.visits.choices import Need
from snapline_service.visits.stock import Lack, Stock

# Of equal effort goes first what is done here, then what is done with the group's own means.
_FIRST = ("measure", "check_asset", "clear_obstacle", "mend_light", "bring_asset", "other_site", "sublet")


class Lender(Struct, frozen=True):
    """An asset of another site that is free on the day."""

    site: SiteDocument
    asset: Asset


class Mending:
    """The remedies that one site has for what it lacks.

    ``able`` are the group's sites that can do what this one cannot, by requirement.
    """

    def __init__(
        self,
        stock: Stock,
        lenders: Sequence[Lender],
        effort: RemedyEffort,
        able: Mapping[str, Sequence[SiteDocument]],
    ) -> None:
        self._stock = stock
        self._lenders = sorted(lenders, key=lambda one: (one.site.id, one.asset.id))
        self._effort = effort
        self._able = able
        self._known: dict[str, Remedy] = {}

    def cheapest(
        self, needs: Iterable[Need], lacks: Mapping[str, Sequence[Lack]]
    ) -> tuple[tuple[Remedy, ...], float]:
        """Return the cheapest remedies for needs of which every alternative is blocked, and their effort."""
        ways = {need.requirement.id: self._ways(need, lacks) for need in needs}
        costs = {name: remedy.effort_min for name, remedy in self._known.items()}
        found = cheapest_remedies(ways, costs)
        return tuple(self._told(name, found.equal[name]) for name in found.remedies), found.cost

    def _told(self, name: str, equal: Iterable[str]) -> Remedy:
        instead = tuple(self._known[other].text for other in equal)
        return msgspec.structs.replace(self._known[name], instead=instead)

    def _ways(self, need: Need, lacks: Mapping[str, Sequence[Lack]]) -> list[Way]:
        ways = []
        for way in need.requirement.alternatives:
            blockers = [one for name in way.procedures for one in self._blockers(lacks.get(name, ()))]
            ways.append(Way(way.id, tuple(blockers)))
        elsewhere = frozenset(map(self._keep, self._elsewhere(need)))
        return [*ways, Way("elsewhere", (elsewhere,))]

    def _elsewhere(self, need: Need) -> Iterator[Remedy]:
        """Yield who else could do it: another workshop only where none of the group's sites can."""
        able = self._able.get(need.requirement.id, ())
        for site in able:
            yield self._remedy("other_site", f"Have it done at {site.name}.", site.id)
        if not able:
            yield self._remedy("sublet", "Have it done by another workshop.", "sublet")

    def _blockers(self, lacks: Sequence[Lack]) -> Iterator[frozenset[str]]:
        """Yield for each thing lacking what would remove it; no asset fills two places of a stage."""
        spoken_for: set[tuple[str, str]] = set()
        for lack in lacks:
            options = [self._remedy(mend.kind, mend.text, mend.subject) for mend in lack.mends]
            if lack.place:
                stage = lack.place.stage
                kinds = (options, self._loans(lack.place.need))
                free = (
                    next((one for one in some if (stage, one.subject) not in spoken_for), None)
                    for some in kinds
                )
                options = [one for one in free if one]
                spoken_for |= {(stage, one.subject) for one in options}
            yield frozenset(map(self._keep, options))

    def _loans(self, need: FixtureNeed) -> Iterator[Remedy]:
        serving = self._stock.grounds(need)
        for lender in self._lenders:
            if lender.asset.fixture in serving:
                text = f"Bring {self._stock.told(lender.asset)} from {lender.site.name}."
                yield self._remedy("bring_asset", text, lender.asset.id, lender.site.id)

    def _remedy(self, kind: str, text: str, subject: str, from_site: str | None = None) -> Remedy:
        effort_min = float(getattr(self._effort, kind))
        return Remedy(kind=kind, text=text, subject=subject, from_site=from_site, effort_min=effort_min)

    def _keep(self, remedy: Remedy) -> str:
        """Note a remedy under a name; what two procedures ask of it is said together."""
        name = f"{_FIRST.index(remedy.kind)} {remedy.subject}"
        known = self._known.get(name, remedy)
        if remedy.text not in known.text:
            known = msgspec.structs.replace(known, text=f"{known.text} {remedy.text}")
        self._known[name] = known
        return name
