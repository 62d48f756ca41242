"""Workshops of your group, and their bays."""

from typing import TypedDict, Unpack

from snapline.calls import Call, get, whole
from snapline.paging import AsyncListing, Page
from snapline.resources.base import AsyncResource, Resource
from snapline.stored import Stored, create, delete, replace, update
from snapline.wire.sites import Bay, BayList, BayPatch, Site, SitePage, SitePatch, SiteQuery

_SITES, _SITE = "/v1/sites", "/v1/sites/{site_id}"
_BAYS, _BAY = "/v1/sites/{site_id}/bays", "/v1/sites/{site_id}/bays/{bay_id}"


class SiteFilters(TypedDict, total=False):
    """The fields of ``SiteQuery``."""

    page_size: int
    page_token: str | None


def list_sites(query: SiteQuery) -> Call[SitePage]:
    """Describe one page of the list of sites."""
    return get(_SITES, SitePage, query=query)


def get_site(site_id: str) -> Call[Site]:
    """Describe the reading of one site."""
    return get(_SITE, Site, site_id=site_id)


def create_site(site: Site, idempotency_key: str | None, *, validate_only: bool) -> Call[Site]:
    """Describe the addition of a site."""
    return create(_SITES, site, Site, idempotency_key, validate_only=validate_only)


def update_site(site_id: str, patch: SitePatch, etag: str, *, validate_only: bool) -> Call[Site]:
    """Describe a change of a site."""
    return update(_SITE, patch, Site, etag, validate_only=validate_only, site_id=site_id)


def delete_site(site_id: str, etag: str) -> Call[Site]:
    """Describe the deletion of a site."""
    return delete(_SITE, Site, etag, site_id=site_id)


def list_bays(site_id: str) -> Call[BayList]:
    """Describe the list of a site's bays."""
    return get(_BAYS, BayList, site_id=site_id)


def get_bay(site_id: str, bay_id: str) -> Call[Bay]:
    """Describe the reading of one bay."""
    return get(_BAY, Bay, site_id=site_id, bay_id=bay_id)


def create_bay(site_id: str, bay: Bay, idempotency_key: str | None, *, validate_only: bool) -> Call[Bay]:
    """Describe the addition of a bay."""
    return create(_BAYS, bay, Bay, idempotency_key, validate_only=validate_only, site_id=site_id)


def replace_bay(site_id: str, bay: Bay, etag: str, *, validate_only: bool) -> Call[Bay]:
    """Describe the replacement of a bay."""
    return replace(_BAY, bay, Bay, etag, validate_only=validate_only, site_id=site_id, bay_id=bay.id)


def update_bay(site_id: str, bay_id: str, patch: BayPatch, etag: str, *, validate_only: bool) -> Call[Bay]:
    """Describe a change of a bay."""
    return update(_BAY, patch, Bay, etag, validate_only=validate_only, site_id=site_id, bay_id=bay_id)


def delete_bay(site_id: str, bay_id: str, etag: str) -> Call[Bay]:
    """Describe the deletion of a bay."""
    return delete(_BAY, Bay, etag, site_id=site_id, bay_id=bay_id)


class Sites(Resource):
    """Workshops of your group, and their bays."""

    def list(self, query: SiteQuery | None = None, /, **filters: Unpack[SiteFilters]) -> Page[Site]:
        """List the sites of your group."""
        return self._pages(list_sites(whole(SiteQuery, query, filters)))

    def get(self, site_id: str) -> Stored[Site]:
        """Return one site and its ETag."""
        return self._stored(get_site(site_id))

    def create(
        self, site: Site, *, idempotency_key: str | None = None, validate_only: bool = False
    ) -> Stored[Site]:
        """Add a site to your group."""
        return self._stored(create_site(site, idempotency_key, validate_only=validate_only))

    def update(
        self, site_id: str, patch: SitePatch, *, etag: str, validate_only: bool = False
    ) -> Stored[Site]:
        """Change what the patch gives."""
        return self._stored(update_site(site_id, patch, etag, validate_only=validate_only))

    def delete(self, site_id: str, *, etag: str) -> Site:
        """Delete a site that has no bays and no fixtures left, and return what it was."""
        return self._answer(delete_site(site_id, etag))

    def bays(self, site_id: str) -> BayList:
        """Return all bays of a site."""
        return self._answer(list_bays(site_id))

    def get_bay(self, site_id: str, bay_id: str) -> Stored[Bay]:
        """Return one bay and its ETag."""
        return self._stored(get_bay(site_id, bay_id))

    def create_bay(
        self, site_id: str, bay: Bay, *, idempotency_key: str | None = None, validate_only: bool = False
    ) -> Stored[Bay]:
        """Add a bay to a site."""
        return self._stored(create_bay(site_id, bay, idempotency_key, validate_only=validate_only))

    def replace_bay(self, site_id: str, bay: Bay, *, etag: str, validate_only: bool = False) -> Stored[Bay]:
        """Replace a bay as a whole, such as after a new survey."""
        return self._stored(replace_bay(site_id, bay, etag, validate_only=validate_only))

    def update_bay(
        self, site_id: str, bay_id: str, patch: BayPatch, *, etag: str, validate_only: bool = False
    ) -> Stored[Bay]:
        """Change what the patch gives; lists in it replace those of the bay."""
        return self._stored(update_bay(site_id, bay_id, patch, etag, validate_only=validate_only))

    def delete_bay(self, site_id: str, bay_id: str, *, etag: str) -> Bay:
        """Delete a bay and return what it was."""
        return self._answer(delete_bay(site_id, bay_id, etag))


class AsyncSites(AsyncResource):
    """Workshops of your group, and their bays."""

    def list(self, query: SiteQuery | None = None, /, **filters: Unpack[SiteFilters]) -> AsyncListing[Site]:
        """List the sites of your group."""
        return self._pages(list_sites(whole(SiteQuery, query, filters)))

    async def get(self, site_id: str) -> Stored[Site]:
        """Return one site and its ETag."""
        return await self._stored(get_site(site_id))

    async def create(
        self, site: Site, *, idempotency_key: str | None = None, validate_only: bool = False
    ) -> Stored[Site]:
        """Add a site to your group."""
        return await self._stored(create_site(site, idempotency_key, validate_only=validate_only))

    async def update(
        self, site_id: str, patch: SitePatch, *, etag: str, validate_only: bool = False
    ) -> Stored[Site]:
        """Change what the patch gives."""
        return await self._stored(update_site(site_id, patch, etag, validate_only=validate_only))

    async def delete(self, site_id: str, *, etag: str) -> Site:
        """Delete a site that has no bays and no fixtures left, and return what it was."""
        return await self._answer(delete_site(site_id, etag))

    async def bays(self, site_id: str) -> BayList:
        """Return all bays of a site."""
        return await self._answer(list_bays(site_id))

    async def get_bay(self, site_id: str, bay_id: str) -> Stored[Bay]:
        """Return one bay and its ETag."""
        return await self._stored(get_bay(site_id, bay_id))

    async def create_bay(
        self, site_id: str, bay: Bay, *, idempotency_key: str | None = None, validate_only: bool = False
    ) -> Stored[Bay]:
        """Add a bay to a site."""
        return await self._stored(create_bay(site_id, bay, idempotency_key, validate_only=validate_only))

    async def replace_bay(
        self, site_id: str, bay: Bay, *, etag: str, validate_only: bool = False
    ) -> Stored[Bay]:
        """Replace a bay as a whole, such as after a new survey."""
        return await self._stored(replace_bay(site_id, bay, etag, validate_only=validate_only))

    async def update_bay(
        self, site_id: str, bay_id: str, patch: BayPatch, *, etag: str, validate_only: bool = False
    ) -> Stored[Bay]:
        """Change what the patch gives; lists in it replace those of the bay."""
        return await self._stored(update_bay(site_id, bay_id, patch, etag, validate_only=validate_only))

    async def delete_bay(self, site_id: str, bay_id: str, *, etag: str) -> Bay:
        """Delete a bay and return what it was."""
        return await self._answer(delete_bay(site_id, bay_id, etag))
