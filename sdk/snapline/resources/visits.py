"""Visits: plan what a repair calls for at every site, and keep the plan."""

from collections.abc import Mapping, Sequence
from typing import Any, NotRequired, TypedDict, Unpack, overload

from snapline.calls import Call, compute, get, whole
from snapline.paging import AsyncListing, Page
from snapline.resources.base import AsyncResource, Resource
from snapline.stored import Stored, create, update
from snapline.wire.scope import RepairLine
from snapline.wire.visits import (
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
    minutes: NotRequired[StepMinutes]
    effort: NotRequired[RemedyEffort]


class VisitFilters(TypedDict, total=False):
    """The fields of ``VisitQuery``."""

    date: str | None
    site: str | None
    state: str | None
    page_size: int
    page_token: str | None


def plan_visit(request: VisitRequest) -> Call[VisitPlan]:
    """Describe the planning of a visit, which keeps nothing."""
    return compute("/v1/visits/plan", VisitPlan, request)


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


class Visits(Resource):
    """Planned visits, and those that are kept."""

    @overload
    def plan(self, request: VisitRequest, /) -> VisitPlan: ...
    @overload
    def plan(self, **fields: Unpack[VisitFields]) -> VisitPlan: ...
    def plan(self, request: VisitRequest | None = None, **fields: Any) -> VisitPlan:
        """Plan a visit: what is called for, which site can do it, where, in which order; nothing is kept."""
        return self._answer(plan_visit(whole(VisitRequest, request, fields)))

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
