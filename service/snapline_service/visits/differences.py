"""What a new plan has otherwise than the one that was kept, in words."""

from collections.abc import Iterable, Iterator, Mapping

from snapline.wire.visits import PlanDifference, SitePlan, VisitPlan


def differences(before: VisitPlan, after: VisitPlan) -> Iterator[PlanDifference]:
    """Yield what differs between two plans of one visit at one site."""
    yield from _changed(
        "revision",
        {"Catalogue revision": str(before.catalogue_revision)},
        {"Catalogue revision": str(after.catalogue_revision)},
    )
    yield from _changed("scope", _scope(before), _scope(after))
    old, new = _site(before), _site(after)
    yield from _changed("outcome", {"Outcome": before.outcome}, {"Outcome": after.outcome})
    yield from _changed("alternative", _ways(old), _ways(new))
    yield from _changed("bay", _bays(old), _bays(new))
    yield from _changed("asset", _assets(old), _assets(new))
    yield from _changed("step", _order(old), _order(new))
    yield from _changed("time", _time(old), _time(new))


def _changed(what: str, before: Mapping[str, str], after: Mapping[str, str]) -> Iterator[PlanDifference]:
    for name in dict.fromkeys((*before, *after)):
        was, is_now = before.get(name), after.get(name)
        if was != is_now:
            text = f"{name}: {was or 'nothing'} → {is_now or 'nothing'}"
            yield PlanDifference(what=what, text=text, before=was, after=is_now)


def _site(plan: VisitPlan) -> SitePlan | None:
    return plan.sites[0] if plan.sites else None


def _scope(plan: VisitPlan) -> dict[str, str]:
    return {one.name: one.answer.replace("_", " ") for one in plan.scope.systems if one.answer}


def _ways(site: SitePlan | None) -> dict[str, str]:
    return {way.requirement: way.name or "not possible" for way in site.ways} if site else {}


def _bays(site: SitePlan | None) -> dict[str, str]:
    poses = site.poses if site else ()
    return {name: pose.bay_name for pose in poses for name in pose.procedures}


def _assets(site: SitePlan | None) -> dict[str, str]:
    used = site.assets if site else ()
    return {
        f"{one.procedure}, {one.placement} ({one.role})": f"{one.fixture_name} ({one.serial})" for one in used
    }


def _order(site: SitePlan | None) -> dict[str, str]:
    return (
        {"Order": _joined(step.procedure for step in site.steps if step.kind == "procedure")} if site else {}
    )


def _time(site: SitePlan | None) -> dict[str, str]:
    return {"Minutes in all": f"{site.total_min:g}"} if site else {}


def _joined(names: Iterable[str | None]) -> str:
    return ", ".join(name for name in names if name)
