"""HTTP of sites, and the list of all that this package serves."""

from litestar import Response, delete, get, patch, post
from litestar.datastructures import State
from litestar.di import NamedDependency
from litestar.params import FromPath, JSONBody

from snapline.wire.sites import Site, SitePage, SitePatch, SiteQuery
from snapline_service import conditional, merge_patch
from snapline_service.access.callers import Caller, needs
from snapline_service.database import reading
from snapline_service.listing import filters_of, page_of
from snapline_service.sites import actions, asset_routes, bay_routes, store
from snapline_service.sites.actions import Editor
from snapline_service.sites.writing import write
from snapline_service.writing import Asked


@get(
    "/v1/sites",
    operation_id="list_sites",
    tags=["sites"],
    guards=[needs("read")],
    sync_to_thread=True,
    opt={"query": SiteQuery},
)
def list_sites(caller: NamedDependency[Caller], request: Asked, state: State) -> SitePage:
    """List the sites of your group, ordered by id."""
    group_id = caller.principal.group_id
    wanted = filters_of(request, SiteQuery)
    with reading(state.engine) as session:
        items, following = page_of(
            Site, wanted, lambda after, limit: store.sites(session, group_id, after, limit)
        )
    return SitePage(items=items, next_page_token=following)


@get(
    "/v1/sites/{site_id:str}",
    operation_id="get_site",
    tags=["sites"],
    guards=[needs("read")],
    sync_to_thread=True,
    opt={"answers": Site, "tagged": True, "refused": ["404"]},
)
def get_site(
    site_id: FromPath[str], caller: NamedDependency[Caller], request: Asked, state: State
) -> Response[bytes]:
    """Get a site. Its bays and physical fixtures have addresses of their own."""
    with reading(state.engine) as session:
        row = actions.site_row(session, caller.principal.group_id, site_id)
    return conditional.answer(request, row.body.encode())


@post(
    "/v1/sites",
    operation_id="create_site",
    tags=["sites"],
    guards=[needs("equip")],
    sync_to_thread=True,
    opt={"answers": Site, "writes": True, "tagged": True, "refused": ["409"]},
)
def create_site(data: JSONBody[Site], caller: NamedDependency[Caller], request: Asked) -> Response[bytes]:
    """Add a site to your group."""
    return write(caller, request, lambda editor: actions.create_site(editor, data), status=201)


@patch(
    "/v1/sites/{site_id:str}",
    operation_id="update_site",
    tags=["sites"],
    guards=[needs("equip")],
    sync_to_thread=True,
    opt={
        "answers": Site,
        "writes": True,
        "tagged": True,
        "conditional": True,
        "refused": ["404"],
        "media": merge_patch.MEDIA_TYPE,
    },
)
def update_site(
    site_id: FromPath[str], data: JSONBody[SitePatch], caller: NamedDependency[Caller], request: Asked
) -> Response[bytes]:
    """Change a site by a merge patch."""

    def change(editor: Editor) -> Site:
        row = actions.site_row(editor.session, editor.group_id, site_id, to_change=True)
        conditional.require_match(request, row.body.encode())
        return actions.change_site(editor, row, actions.patched(row.body, data, Site))

    return write(caller, request, change)


@delete(
    "/v1/sites/{site_id:str}",
    operation_id="delete_site",
    tags=["sites"],
    guards=[needs("equip")],
    status_code=200,
    sync_to_thread=True,
    opt={"answers": Site, "writes": True, "tagged": True, "conditional": True, "refused": ["404", "409"]},
)
def delete_site(site_id: FromPath[str], caller: NamedDependency[Caller], request: Asked) -> Response[bytes]:
    """Delete a site that has no bays and no physical fixtures left; the answer is what it was."""

    def change(editor: Editor) -> Site:
        row = actions.site_row(editor.session, editor.group_id, site_id, to_change=True)
        conditional.require_match(request, row.body.encode())
        return actions.delete_site(editor, row)

    return write(caller, request, change)


HANDLERS = [
    list_sites,
    get_site,
    create_site,
    update_site,
    delete_site,
    *bay_routes.HANDLERS,
    *asset_routes.HANDLERS,
]
