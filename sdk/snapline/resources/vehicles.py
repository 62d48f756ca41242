"""Vehicles: identify, search, look up."""

from collections.abc import Mapping, Sequence
from typing import Literal, TypedDict, Unpack

from snapline.calls import Call, compute, get, whole
from snapline.paging import AsyncListing, Page
from snapline.resources.base import AsyncResource, Resource
from snapline.wire.vehicles import (
    Identification,
    IdentifyRequest,
    Vehicle,
    VehiclePage,
    VehicleQuery,
    VehicleSummary,
    VehicleSystem,
)


class IdentifyFields(TypedDict, total=False):
    """The fields of ``IdentifyRequest``."""

    vin: str | None
    make: str | None
    model: str | None
    model_year: int | None
    market: str | None
    drive_side: Literal["left", "right"] | None
    build_codes: Sequence[str]
    answers: Mapping[str, str]


class VehicleFilters(TypedDict, total=False):
    """The fields of ``VehicleQuery``."""

    make: str | None
    model: str | None
    model_year: int | None
    market: str | None
    system_kind: str | None
    q: str | None
    page_size: int
    page_token: str | None


def identify_vehicle(request: IdentifyRequest) -> Call[Identification]:
    """Describe an identification. A VIN travels in the body, never in the address."""
    return compute("/v1/vehicles/identify", Identification, request)


def list_vehicles(query: VehicleQuery) -> Call[VehiclePage]:
    """Describe one page of the vehicle list."""
    return get("/v1/vehicles", VehiclePage, query=query)


def get_vehicle(vehicle_id: str) -> Call[Vehicle]:
    """Describe the look-up of one vehicle."""
    return get("/v1/vehicles/{vehicle_id}", Vehicle, vehicle_id=vehicle_id)


def get_vehicle_system(vehicle_id: str, system_id: str) -> Call[VehicleSystem]:
    """Describe the look-up of one system of a vehicle."""
    route = "/v1/vehicles/{vehicle_id}/systems/{system_id}"
    return get(route, VehicleSystem, vehicle_id=vehicle_id, system_id=system_id)


class Vehicles(Resource):
    """Vehicles of the catalogue."""

    def identify(
        self, request: IdentifyRequest | None = None, /, **fields: Unpack[IdentifyFields]
    ) -> Identification:
        """Find the vehicle from what is known of it, or the fewest questions that settle which."""
        return self._answer(identify_vehicle(whole(IdentifyRequest, request, fields)))

    def list(
        self, query: VehicleQuery | None = None, /, **filters: Unpack[VehicleFilters]
    ) -> Page[VehicleSummary]:
        """List the vehicles that pass every filter given."""
        return self._pages(list_vehicles(whole(VehicleQuery, query, filters)))

    def get(self, vehicle_id: str) -> Vehicle:
        """Return a vehicle's whole requirement document."""
        return self._answer(get_vehicle(vehicle_id))

    def get_system(self, vehicle_id: str, system_id: str) -> VehicleSystem:
        """Return one system of a vehicle with its procedures."""
        return self._answer(get_vehicle_system(vehicle_id, system_id))


class AsyncVehicles(AsyncResource):
    """Vehicles of the catalogue."""

    async def identify(
        self, request: IdentifyRequest | None = None, /, **fields: Unpack[IdentifyFields]
    ) -> Identification:
        """Find the vehicle from what is known of it, or the fewest questions that settle which."""
        return await self._answer(identify_vehicle(whole(IdentifyRequest, request, fields)))

    def list(
        self, query: VehicleQuery | None = None, /, **filters: Unpack[VehicleFilters]
    ) -> AsyncListing[VehicleSummary]:
        """List the vehicles that pass every filter given."""
        return self._pages(list_vehicles(whole(VehicleQuery, query, filters)))

    async def get(self, vehicle_id: str) -> Vehicle:
        """Return a vehicle's whole requirement document."""
        return await self._answer(get_vehicle(vehicle_id))

    async def get_system(self, vehicle_id: str, system_id: str) -> VehicleSystem:
        """Return one system of a vehicle with its procedures."""
        return await self._answer(get_vehicle_system(vehicle_id, system_id))
