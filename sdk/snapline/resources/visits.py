"""Visits: plan what a repair calls for at every site, and keep the plan."""

from collections.abc import AsyncIterator, Iterable, Iterator, Mapping, Sequence
from itertools import islice
from typing import Any, NotRequired, TypedDict, Unpack, overload

import msgspec

from snapline.calls import HTML, NDJSON, PDF, Call, compute, get, whole
from snapline.paging import AsyncListing, Page
from snapline.resources.base import AsyncResource, Resource
from snapline.stored import Stored, create, update
from snapline.wire.scope import RepairLine
from snapline.wire.setups import Paper
from snapline.wire.visits import (
    BulkLine,
    KeepVisit,
    RemedyEffort,
    ReplannedVisit,
    StepMinutes,
    Visit,
    VisitPage,
    VisitPatch,
    VisitPlan,
    VisitQuery,
    VisitRequest,
    VisitSummary,
)

_VISIT = "/v1/visits/{visit_id}"
AT_ONCE = 20


class VisitFields(TypedDict):
    """The fields of ``VisitRequest``."""

    vehicle_id: str
    operations: Sequence[RepairLine]
    date: str
    start: NotRequired[str]
    sites: NotRequired[Sequence[str]]
    options: NotRequired[Mapping[str, str]]
    build_codes: NotRequired[Sequence[str]]
    answers: NotRequired[Mapping[str, str]]
    changes: NotRequired[Mapping[str, str]]
    prefer: NotRequired[Mapping[str, str]]
    by_property: NotRequired[bool]
    plan_conditional: NotRequired[bool]
    measured: NotRequired[Mapping[str, float]]
    standard_uncertainty: NotRequired[Mapping[str, float]]
    cure_left_min: NotRequired[float | None]
    road_heading_deg: NotRequired[float | None]
    paper: NotRequired[Paper]
    minutes: NotRequired[StepMinutes]
    effort: NotRequired[RemedyEffort]


class VisitFilters(TypedDict, total=False):
    """The fields of ``VisitQuery``."""

    date: str | None
    site: str | None
    state: str | None
    asset: str | None
    page_size: int
    page_token: str | None


def plan_visit(request: VisitRequest) -> Call[VisitPlan]:
    """Describe the planning of a visit, which keeps nothing."""
    return compute("/v1/visits/plan", VisitPlan, request)


def visit_sheet(request: VisitRequest, accept: str) -> Call[bytes]:
    """Describe the sheet of a planned visit."""
    return compute("/v1/visits/plan", bytes, request, accept=accept)


def plan_visits(requests: tuple[VisitRequest, ...]) -> Call[bytes]:
    """Describe the planning of many visits, a line for each."""
    return Call(
        method="POST",
        route="/v1/visits/plan/bulk",
        answer=bytes,
        body=requests,
        headers={"content-type": NDJSON},
        accept=NDJSON,
        safe=True,
    )


def list_visits(query: VisitQuery) -> Call[VisitPage]:
    """Describe one page of the list of kept visits."""
    return get("/v1/visits", VisitPage, query=query)


def get_visit(visit_id: str) -> Call[Visit]:
    """Describe the reading of one kept visit."""
    return get(_VISIT, Visit, visit_id=visit_id)


def keep_visit(wanted: KeepVisit, idempotency_key: str | None, *, validate_only: bool) -> Call[Visit]:
    """Describe the keeping of a visit."""
    return create("/v1/visits", wanted, Visit, idempotency_key, validate_only=validate_only)


def update_visit(visit_id: str, patch: VisitPatch, etag: str, *, validate_only: bool) -> Call[Visit]:
    """Describe a change of a kept visit."""
    return update(_VISIT, patch, Visit, etag, validate_only=validate_only, visit_id=visit_id)


def replan_visit(visit_id: str, *, validate_only: bool) -> Call[ReplannedVisit]:
    """Describe the planning anew of a kept visit, which twice is the same as once."""
    return Call(
        method="POST",
        route=f"{_VISIT}/replan",
        answer=ReplannedVisit,
        ids={"visit_id": visit_id},
        query={"validate_only": True} if validate_only else {},
        safe=True,
    )


def _batches(
    requests: Iterable[VisitRequest], at_once: int
) -> Iterator[tuple[int, tuple[VisitRequest, ...]]]:
    """Yield batches with how many came before them."""
    left, before = iter(requests), 0
    while batch := tuple(islice(left, at_once)):
        yield before, batch
        before += len(batch)


def _lines(before: int, answer: bytes) -> Iterator[BulkLine]:
    for line in answer.splitlines():
        found = msgspec.json.decode(line, type=BulkLine)
        yield msgspec.structs.replace(found, line=before + found.line)


class Visits(Resource):
    """Planned visits, and those that are kept."""

    @overload
    def plan(self, request: VisitRequest, /) -> VisitPlan: ...
    @overload
    def plan(self, **fields: Unpack[VisitFields]) -> VisitPlan: ...
    def plan(self, request: VisitRequest | None = None, **fields: Any) -> VisitPlan:
        """Plan a visit: what is called for, which site can do it, where, in which order; nothing is kept."""
        return self._answer(plan_visit(whole(VisitRequest, request, fields)))

    @overload
    def sheet_html(self, request: VisitRequest, /) -> str: ...
    @overload
    def sheet_html(self, **fields: Unpack[VisitFields]) -> str: ...
    def sheet_html(self, request: VisitRequest | None = None, **fields: Any) -> str:
        """Return the visit planned at the best site as one self-contained page."""
        return self._answer(visit_sheet(whole(VisitRequest, request, fields), HTML)).decode()

    @overload
    def sheet_pdf(self, request: VisitRequest, /) -> bytes: ...
    @overload
    def sheet_pdf(self, **fields: Unpack[VisitFields]) -> bytes: ...
    def sheet_pdf(self, request: VisitRequest | None = None, **fields: Any) -> bytes:
        """Return the visit planned at the best site as a sheet for printing."""
        return self._answer(visit_sheet(whole(VisitRequest, request, fields), PDF))

    def plan_many(self, requests: Iterable[VisitRequest], *, at_once: int = AT_ONCE) -> Iterator[BulkLine]:
        """Plan any number of visits, ``at_once`` of them in a call; yield a plan or a problem for each."""
        for before, batch in _batches(requests, at_once):
            yield from _lines(before, self._answer(plan_visits(batch)))

    def keep(
        self,
        request: VisitRequest,
        *,
        site: str | None = None,
        reference: str | None = None,
        idempotency_key: str | None = None,
        validate_only: bool = False,
    ) -> Stored[Visit]:
        """Plan a visit at one site, the best if none is named, and keep it with the assets that it needs."""
        wanted = KeepVisit(request=request, site=site, reference=reference)
        return self._stored(keep_visit(wanted, idempotency_key, validate_only=validate_only))

    def list(self, query: VisitQuery | None = None, /, **filters: Unpack[VisitFilters]) -> Page[VisitSummary]:
        """List kept visits."""
        return self._pages(list_visits(whole(VisitQuery, query, filters)))

    def get(self, visit_id: str) -> Stored[Visit]:
        """Return one kept visit and its ETag."""
        return self._stored(get_visit(visit_id))

    def update(
        self, visit_id: str, patch: VisitPatch, *, etag: str, validate_only: bool = False
    ) -> Stored[Visit]:
        """Change the state of a kept visit, or what it is planned from."""
        return self._stored(update_visit(visit_id, patch, etag, validate_only=validate_only))

    def replan(self, visit_id: str, *, validate_only: bool = False) -> ReplannedVisit:
        """Plan a kept visit anew as things are now, and say what differs."""
        return self._answer(replan_visit(visit_id, validate_only=validate_only))


class AsyncVisits(AsyncResource):
    """Planned visits, and those that are kept."""

    @overload
    async def plan(self, request: VisitRequest, /) -> VisitPlan: ...
    @overload
    async def plan(self, **fields: Unpack[VisitFields]) -> VisitPlan: ...
    async def plan(self, request: VisitRequest | None = None, **fields: Any) -> VisitPlan:
        """Plan a visit: what is called for, which site can do it, where, in which order; nothing is kept."""
        return await self._answer(plan_visit(whole(VisitRequest, request, fields)))

    @overload
    async def sheet_html(self, request: VisitRequest, /) -> str: ...
    @overload
    async def sheet_html(self, **fields: Unpack[VisitFields]) -> str: ...
    async def sheet_html(self, request: VisitRequest | None = None, **fields: Any) -> str:
        """Return the visit planned at the best site as one self-contained page."""
        return (await self._answer(visit_sheet(whole(VisitRequest, request, fields), HTML))).decode()

    @overload
    async def sheet_pdf(self, request: VisitRequest, /) -> bytes: ...
    @overload
    async def sheet_pdf(self, **fields: Unpack[VisitFields]) -> bytes: ...
    async def sheet_pdf(self, request: VisitRequest | None = None, **fields: Any) -> bytes:
        """Return the visit planned at the best site as a sheet for printing."""
        return await self._answer(visit_sheet(whole(VisitRequest, request, fields), PDF))

    async def plan_many(
        self, requests: Iterable[VisitRequest], *, at_once: int = AT_ONCE
    ) -> AsyncIterator[BulkLine]:
        """Plan any number of visits, ``at_once`` of them in a call; yield a plan or a problem for each."""
        for before, batch in _batches(requests, at_once):
            for line in _lines(before, await self._answer(plan_visits(batch))):
                yield line

    async def keep(
        self,
        request: VisitRequest,
        *,
        site: str | None = None,
        reference: str | None = None,
        idempotency_key: str | None = None,
        validate_only: bool = False,
    ) -> Stored[Visit]:
        """Plan a visit at one site, the best if none is named, and keep it with the assets that it needs."""
        wanted = KeepVisit(request=request, site=site, reference=reference)
        return await self._stored(keep_visit(wanted, idempotency_key, validate_only=validate_only))

    def list(
        self, query: VisitQuery | None = None, /, **filters: Unpack[VisitFilters]
    ) -> AsyncListing[VisitSummary]:
        """List kept visits."""
        return self._pages(list_visits(whole(VisitQuery, query, filters)))

    async def get(self, visit_id: str) -> Stored[Visit]:
        """Return one kept visit and its ETag."""
        return await self._stored(get_visit(visit_id))

    async def update(
        self, visit_id: str, patch: VisitPatch, *, etag: str, validate_only: bool = False
    ) -> Stored[Visit]:
        """Change the state of a kept visit, or what it is planned from."""
        return await self._stored(update_visit(visit_id, patch, etag, validate_only=validate_only))

    async def replan(self, visit_id: str, *, validate_only: bool = False) -> ReplannedVisit:
        """Plan a kept visit anew as things are now, and say what differs."""
        return await self._answer(replan_visit(visit_id, validate_only=validate_only))
