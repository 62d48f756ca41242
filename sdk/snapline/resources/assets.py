"""Physical fixtures of your group."""

from typing import Literal, TypedDict, Unpack

from snapline.calls import Call, get, whole
from snapline.paging import AsyncListing, Page
from snapline.resources.base import AsyncResource, Resource
from snapline.stored import Stored, create, delete, update
from snapline.wire.sites import AssetPage, AssetPatch, AssetQuery, SiteAsset

_ASSETS, _ASSET = "/v1/assets", "/v1/assets/{asset_id}"


class AssetFilters(TypedDict, total=False):
    """The fields of ``AssetQuery``."""

    site: str | None
    fixture: str | None
    condition: Literal["in_service", "out_of_service"] | None
    page_size: int
    page_token: str | None


def list_assets(query: AssetQuery) -> Call[AssetPage]:
    """Describe one page of the list of physical fixtures."""
    return get(_ASSETS, AssetPage, query=query)


def get_asset(asset_id: str) -> Call[SiteAsset]:
    """Describe the reading of one physical fixture."""
    return get(_ASSET, SiteAsset, asset_id=asset_id)


def create_asset(asset: SiteAsset, idempotency_key: str | None, *, validate_only: bool) -> Call[SiteAsset]:
    """Describe the addition of a physical fixture."""
    return create(_ASSETS, asset, SiteAsset, idempotency_key, validate_only=validate_only)


def update_asset(asset_id: str, patch: AssetPatch, etag: str, *, validate_only: bool) -> Call[SiteAsset]:
    """Describe a change of a physical fixture."""
    return update(_ASSET, patch, SiteAsset, etag, validate_only=validate_only, asset_id=asset_id)


def delete_asset(asset_id: str, etag: str) -> Call[SiteAsset]:
    """Describe the deletion of a physical fixture."""
    return delete(_ASSET, SiteAsset, etag, asset_id=asset_id)


class Assets(Resource):
    """Physical fixtures of your group."""

    def list(self, query: AssetQuery | None = None, /, **filters: Unpack[AssetFilters]) -> Page[SiteAsset]:
        """List the physical fixtures that pass every filter given."""
        return self._pages(list_assets(whole(AssetQuery, query, filters)))

    def get(self, asset_id: str) -> Stored[SiteAsset]:
        """Return one physical fixture and its ETag."""
        return self._stored(get_asset(asset_id))

    def create(
        self, asset: SiteAsset, *, idempotency_key: str | None = None, validate_only: bool = False
    ) -> Stored[SiteAsset]:
        """Add a physical fixture to a site."""
        return self._stored(create_asset(asset, idempotency_key, validate_only=validate_only))

    def update(
        self, asset_id: str, patch: AssetPatch, *, etag: str, validate_only: bool = False
    ) -> Stored[SiteAsset]:
        """Change what the patch gives; another site moves the fixture there."""
        return self._stored(update_asset(asset_id, patch, etag, validate_only=validate_only))

    def delete(self, asset_id: str, *, etag: str) -> SiteAsset:
        """Delete a physical fixture and return what it was."""
        return self._answer(delete_asset(asset_id, etag))


class AsyncAssets(AsyncResource):
    """Physical fixtures of your group."""

    def list(
        self, query: AssetQuery | None = None, /, **filters: Unpack[AssetFilters]
    ) -> AsyncListing[SiteAsset]:
        """List the physical fixtures that pass every filter given."""
        return self._pages(list_assets(whole(AssetQuery, query, filters)))

    async def get(self, asset_id: str) -> Stored[SiteAsset]:
        """Return one physical fixture and its ETag."""
        return await self._stored(get_asset(asset_id))

    async def create(
        self, asset: SiteAsset, *, idempotency_key: str | None = None, validate_only: bool = False
    ) -> Stored[SiteAsset]:
        """Add a physical fixture to a site."""
        return await self._stored(create_asset(asset, idempotency_key, validate_only=validate_only))

    async def update(
        self, asset_id: str, patch: AssetPatch, *, etag: str, validate_only: bool = False
    ) -> Stored[SiteAsset]:
        """Change what the patch gives; another site moves the fixture there."""
        return await self._stored(update_asset(asset_id, patch, etag, validate_only=validate_only))

    async def delete(self, asset_id: str, *, etag: str) -> SiteAsset:
        """Delete a physical fixture and return what it was."""
        return await self._answer(delete_asset(asset_id, etag))
