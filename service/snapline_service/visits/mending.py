"""The cheapest set of things that would let a site do what it cannot do today."""

from collections.abc import Iterable, Mapping, Sequence

from msgspec import Struct

from snapline.wire.sites import Asset
from snapline.wire.visits import Remedy, RemedyEffort
from snapline_service.planning.remedies import Way, cheapest_remedies
from snapline_service.visits.choices import Need
from snapline_service.visits.stock import Lack, Stock

_SUBLET = "sublet"


class Lender(Struct, frozen=True):
    """An asset of another site that is free on the day."""

    site: str
    asset: Asset


class Mending:
    """The remedies that one site has for what it lacks."""

    def __init__(self, stock: Stock, lenders: Sequence[Lender], effort: RemedyEffort) -> None:
        self._stock = stock
        self._lenders = sorted(lenders, key=lambda one: (one.site, one.asset.id))
        self._effort = effort
        self._known: dict[str, Remedy] = {
            _SUBLET: self._remedy("sublet", "Have it done by another workshop.", _SUBLET)
        }

    def cheapest(
        self, needs: Iterable[Need], lacks: Mapping[str, Sequence[Lack]]
    ) -> tuple[tuple[Remedy, ...], float]:
        """Return the cheapest remedies for needs of which every alternative is blocked, and their effort."""
        ways = {need.requirement.id: self._ways(need, lacks) for need in needs}
        costs = {name: remedy.effort_min for name, remedy in self._known.items()}
        found = cheapest_remedies(ways, costs)
        return tuple(self._known[name] for name in found.remedies), found.cost

    def _ways(self, need: Need, lacks: Mapping[str, Sequence[Lack]]) -> list[Way]:
        ways = []
        for way in need.requirement.alternatives:
            blockers = [one for name in way.procedures for one in self._blockers(lacks.get(name, ()))]
            ways.append(Way(way.id, tuple(blockers)))
        return [*ways, Way(_SUBLET, (frozenset([_SUBLET]),))]

    def _blockers(self, lacks: Sequence[Lack]) -> Iterable[frozenset[str]]:
        """Yield for each thing lacking what would remove it; no asset is brought for two places at once."""
        spoken_for: set[str] = set()
        for lack in lacks:
            options = [self._keep(remedy) for remedy in self._own(lack)]
            lender = self._lender(lack, spoken_for)
            if lender:
                spoken_for.add(lender.asset.id)
                options.append(self._keep(self._bring(lender)))
            yield frozenset(options)

    def _own(self, lack: Lack) -> Iterable[Remedy]:
        for blocker in lack.blockers:
            if blocker.kind == "check_overdue" and blocker.subject:
                yield self._remedy("check_asset", f"Have {blocker.subject} checked again.", blocker.subject)
            elif blocker.kind == "missing_dimension" and blocker.subject:
                yield self._remedy("measure", f"Measure {blocker.subject} on the car.", blocker.subject)
        for obstacle in lack.obstacles:
            yield self._remedy("clear_obstacle", f"Clear away: {obstacle}.", obstacle)

    def _lender(self, lack: Lack, spoken_for: set[str]) -> Lender | None:
        if lack.need is None:
            return None
        serving = self._stock.grounds(lack.need)
        free = (one for one in self._lenders if one.asset.fixture in serving)
        return next((one for one in free if one.asset.id not in spoken_for), None)

    def _bring(self, lender: Lender) -> Remedy:
        text = f"Bring {lender.asset.id} ({lender.asset.serial}) from {lender.site}."
        return self._remedy("bring_asset", text, lender.asset.id, lender.site)

    def _remedy(self, kind: str, text: str, subject: str, from_site: str | None = None) -> Remedy:
        effort_min = float(getattr(self._effort, kind))
        return Remedy(kind=kind, text=text, subject=subject, from_site=from_site, effort_min=effort_min)

    def _keep(self, remedy: Remedy) -> str:
        name = f"{remedy.kind}:{remedy.subject}"
        self._known[name] = remedy
        return name
