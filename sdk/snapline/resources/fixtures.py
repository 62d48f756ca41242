"""Fixtures: types of equipment put on the floor, and the vehicles they serve."""

from typing import TypedDict, Unpack

from snapline.calls import Call, compute, get, whole
from snapline.paging import AsyncListing, Page
from snapline.resources.base import AsyncResource, Resource
from snapline.wire.catalogue import RadarNeed
from snapline.wire.fixtures import (
    Fixture,
    FixtureMatches,
    FixtureMatchRequest,
    FixturePage,
    FixtureQuery,
    FixtureSummary,
    FixtureVehicle,
    FixtureVehiclePage,
    FixtureVehicleQuery,
)


class FixtureFilters(TypedDict, total=False):
    """The fields of ``FixtureQuery``."""

    fixture_kind: str | None
    capability: str | None
    page_size: int
    page_token: str | None


class FixtureVehicleFilters(TypedDict, total=False):
    """The fields of ``FixtureVehicleQuery``."""

    make: str | None
    model: str | None
    model_year: int | None
    system_kind: str | None
    by_property: bool
    page_size: int
    page_token: str | None


class MatchFields(TypedDict, total=False):
    """The fields of ``FixtureMatchRequest``."""

    capability: str | None
    radar: RadarNeed | None


def list_fixtures(query: FixtureQuery) -> Call[FixturePage]:
    """Describe one page of the fixture list."""
    return get("/v1/fixtures", FixturePage, query=query)


def get_fixture(fixture_id: str) -> Call[Fixture]:
    """Describe the look-up of one fixture."""
    return get("/v1/fixtures/{fixture_id}", Fixture, fixture_id=fixture_id)


def list_fixture_vehicles(fixture_id: str, query: FixtureVehicleQuery) -> Call[FixtureVehiclePage]:
    """Describe one page of the vehicles that a fixture serves."""
    return get("/v1/fixtures/{fixture_id}/vehicles", FixtureVehiclePage, query=query, fixture_id=fixture_id)


def match_fixtures(request: FixtureMatchRequest) -> Call[FixtureMatches]:
    """Describe the search for fixtures that meet a need."""
    return compute("/v1/fixtures/match", FixtureMatches, request)


class Fixtures(Resource):
    """Fixture types of the catalogue."""

    def list(
        self, query: FixtureQuery | None = None, /, **filters: Unpack[FixtureFilters]
    ) -> Page[FixtureSummary]:
        """List the fixtures that pass every filter given."""
        return self._pages(list_fixtures(whole(FixtureQuery, query, filters)))

    def get(self, fixture_id: str) -> Fixture:
        """Return one fixture type."""
        return self._answer(get_fixture(fixture_id))

    def vehicles(
        self,
        fixture_id: str,
        query: FixtureVehicleQuery | None = None,
        /,
        **filters: Unpack[FixtureVehicleFilters],
    ) -> Page[FixtureVehicle]:
        """List the vehicles that a fixture serves, and what for."""
        return self._pages(list_fixture_vehicles(fixture_id, whole(FixtureVehicleQuery, query, filters)))

    def match(
        self, request: FixtureMatchRequest | None = None, /, **fields: Unpack[MatchFields]
    ) -> FixtureMatches:
        """Find the fixtures that meet a need: yes, or unknown with the property that is missing."""
        return self._answer(match_fixtures(whole(FixtureMatchRequest, request, fields)))


class AsyncFixtures(AsyncResource):
    """Fixture types of the catalogue."""

    def list(
        self, query: FixtureQuery | None = None, /, **filters: Unpack[FixtureFilters]
    ) -> AsyncListing[FixtureSummary]:
        """List the fixtures that pass every filter given."""
        return self._pages(list_fixtures(whole(FixtureQuery, query, filters)))

    async def get(self, fixture_id: str) -> Fixture:
        """Return one fixture type."""
        return await self._answer(get_fixture(fixture_id))

    def vehicles(
        self,
        fixture_id: str,
        query: FixtureVehicleQuery | None = None,
        /,
        **filters: Unpack[FixtureVehicleFilters],
    ) -> AsyncListing[FixtureVehicle]:
        """List the vehicles that a fixture serves, and what for."""
        return self._pages(list_fixture_vehicles(fixture_id, whole(FixtureVehicleQuery, query, filters)))

    async def match(
        self, request: FixtureMatchRequest | None = None, /, **fields: Unpack[MatchFields]
    ) -> FixtureMatches:
        """Find the fixtures that meet a need: yes, or unknown with the property that is missing."""
        return await self._answer(match_fixtures(whole(FixtureMatchRequest, request, fields)))
