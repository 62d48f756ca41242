"""A planned visit as a sheet: what is called for, where the car stands, the order of work, preparation."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from snapline.offline import RevisionFile
from snapline.wire.scope import ChangedCarAnswer, SystemScope
from snapline.wire.setups import Paper
from snapline.wire.sites import Bay, SiteDocument
from snapline.wire.visits import SitePlan, VisitPlan, VisitStep
from snapline_service.setups import preparation
from snapline_service.setups.sheet import drive_words
from snapline_service.sheets.document import (
    Blank,
    Block,
    Column,
    Section,
    SheetDocument,
    Statements,
    Table,
    TitleBlock,
)
from snapline_service.sheets.drawing import Fill
from snapline_service.sheets.page_html import to_html
from snapline_service.sheets.pages import pages
from snapline_service.sheets.timeline import Bar, timeline_drawing
from snapline_service.visits.in_place import bay_section

_ANSWERS = {
    "called_for": "called for",
    "not_called_for": "not called for: a source says so",
    "conditional": "depends on an open question",
    "no_rule": "no rule: look in the maker's procedure",
}


@dataclass(frozen=True, slots=True)
class Issue:
    """Whose sheet it is, of which day, and the site that it is about."""

    legal_owner: str
    date_of_issue: date
    site: SitePlan | None
    bays: tuple[Bay, ...] = ()


def issue(sites: Sequence[SiteDocument], plan: VisitPlan, legal_owner: str, day: date) -> Issue:
    """Return what a sheet says of itself, about the best of the sites that were planned."""
    best = plan.sites[0] if plan.sites else None
    bays = next((site.bays for site in sites if best and site.id == best.site), ())
    return Issue(legal_owner, day, best, bays)


def as_html(file: RevisionFile, plan: VisitPlan, issue: Issue, paper: Paper) -> str:
    """Return the sheet as one self-contained page."""
    return to_html(document(file, plan, issue), paper)


def as_pdf(file: RevisionFile, plan: VisitPlan, issue: Issue, paper: Paper) -> bytes:
    """Return the sheet for printing."""
    from snapline_service.sheets.pdf import to_pdf  # noqa: PLC0415 - its library would slow the start

    return to_pdf(pages(document(file, plan, issue), paper), title=plan.vehicle_name, subject="Visit plan")


def document(file: RevisionFile, plan: VisitPlan, issue: Issue) -> SheetDocument:
    """Return a plan as a document, with one site worked out: where the car stands and in which order."""
    site = issue.site
    at = f"{site.name}, {plan.date}" if site else plan.date
    code = f"Snapline; visit; catalogue revision {plan.catalogue_revision}; vehicle {plan.vehicle_id}; {at}"
    sections = [Section("What is called for", code, tuple(_called_for(plan)))]
    if site:
        bays = {bay.id: bay for bay in issue.bays}
        sections += [bay_section(file, plan, (site, pose), bays[pose.bay], code) for pose in site.poses]
        if site.steps:
            sections.append(_order(site, code))
    sections.append(Section("Prepare", code, tuple(_prepare(plan))))
    return SheetDocument(
        title_block=TitleBlock(
            legal_owner=issue.legal_owner,
            title=plan.vehicle_name,
            supplementary_title=f"Visit: {at}",
            identification_number=plan.vehicle_id,
            revision=f"Catalogue revision {plan.catalogue_revision}",
            date_of_issue=issue.date_of_issue.isoformat(),
            document_type="Visit plan",
        ),
        sections=tuple(sections),
        banners=("INVENTED DATA",) if plan.invented else (),
    )


def _called_for(plan: VisitPlan) -> Iterator[Block]:
    yield Statements("Result", (plan.outcome_because,), "plain" if plan.outcome == "can" else "warning")
    lines = [_line(one.name, one.extent) for one in plan.scope.operations]
    unknown = [f"'{one.text}' is not understood" for one in plan.scope.unknown_operations]
    yield Statements("Repair lines", (*lines, *unknown))
    yield Table(
        "Systems",
        (Column("System", 30), Column("Calibration", 30), Column("Why", 60)),
        tuple(
            (one.name, _ANSWERS.get(one.answer or "", "not fitted"), _why(one)) for one in plan.scope.systems
        ),
    )
    yield Statements("To find out", tuple(one.text for one in plan.scope.questions), "warning")
    yield Statements("The car was changed", tuple(map(_changed, plan.scope.changed_car)), "warning")
    yield Table(
        "Sites",
        (Column("Site", 40), Column("Can it?", 20), Column("Minutes", 15, True), Column("What stops it", 60)),
        tuple(_site_row(site) for site in plan.sites),
    )
    yield Statements("Cautions", tuple(caution.text for caution in plan.cautions))
    sources = (f"{source.title}, {source.edition}, {source.published_on}" for source in plan.sources)
    yield Statements("Sources", tuple(sources))


def _changed(one: ChangedCarAnswer) -> str:
    return f"{one.change.replace('_', ' ')}: {one.answer.replace('_', ' ')}. {one.text}"


def _line(name: str, extent: str | None) -> str:
    return f"{name}, {extent.replace('_', ' ')}" if extent else name


def _why(scope: SystemScope) -> str:
    reasons = [one.reason for one in scope.reasons if one.effect == scope.answer]
    return " ".join(dict.fromkeys(reasons)) or scope.fitted_because


def _site_row(site: SitePlan) -> tuple[str, ...]:
    mend = " ".join(one.text for one in site.remedies)
    stops = " ".join(dict.fromkeys(one.text for one in site.blockers))
    said = f"{stops} Remedy: {mend}" if mend else stops
    minutes = "" if site.outcome == "cannot" else f"{site.total_min:g}"
    return site.name, site.outcome, minutes, said or "nothing"


def _order(site: SitePlan, code: str) -> Section:
    start_min = _minutes(site.steps[0].starts_at)
    labels = {used.asset: f"{used.fixture_name} ({used.serial})" for used in site.assets}
    rows = tuple(
        (
            f"{step.starts_at} to {step.ends_at}",
            step.text,
            _hands(step, labels),
            f"{step.people}",
            Blank(tick=True),
        )
        for step in site.steps
    )
    columns = (
        Column("Time", 22, is_figure=True),
        Column("Step", 60),
        Column("Fixtures", 50),
        Column("People", 12, is_figure=True),
        Column("Done", 10),
    )
    blocks: tuple[Block, ...] = (
        Table("Steps", columns, rows),
        Statements("On the road", tuple(_on_the_road(site))),
    )
    return Section("Order of work", code, blocks, timeline_drawing(tuple(_bars(site)), start_min))


def _bars(site: SitePlan) -> Iterator[Bar]:
    """Yield how long the adhesive still cures, beside which the work goes on, and the steps."""
    if site.cure_min:
        yield Bar("Adhesive cures: do not drive", 0.0, site.cure_min, "none")
    for step in site.steps:
        label = f"If needed: {_short(step)}" if step.conditional else _short(step)
        yield Bar(label, step.start_min, step.end_min, _fill(step), dashed=step.conditional)


def _on_the_road(site: SitePlan) -> Iterator[str]:
    names = {step.procedure: step.text for step in site.steps if step.kind == "procedure"}
    for drive in site.drives:
        yield f"{names.get(drive.procedure, drive.procedure)}. {drive.text}"
        yield from drive_words(drive.conditions)


def _short(step: VisitStep) -> str:
    named = {"procedure": step.text, "set_up": "Set up", "pre_scan": "Scan before", "post_scan": "Scan after"}
    return named.get(step.kind, step.kind.replace("_", " ").capitalize())


def _fill(step: VisitStep) -> Fill:
    if step.kind == "wait" or step.conditional:
        return "none"
    return "hatch" if step.kind == "set_up" else "solid"


def _hands(step: VisitStep, labels: Mapping[str, str]) -> str:
    said = [("stand up", step.stand_up), ("move", step.move), ("take away", step.take_away)]
    return "; ".join(
        f"{verb}: {', '.join(labels.get(one, one) for one in assets)}" for verb, assets in said if assets
    )


def _minutes(clock_time: str) -> float:
    hours, _, minutes = clock_time.partition(":")
    return int(hours) * 60 + int(minutes)


def _prepare(plan: VisitPlan) -> Iterator[Block]:
    yield from preparation.tables(plan.preparation)
    yield Statements("Not checked or assumed", (*plan.assumed, *_unchecked(plan.unchecked)), "warning")


def _unchecked(places: Sequence[str]) -> Iterator[str]:
    return (f"Nobody compared with its source: {place}" for place in places)
