"""HTTP of physical fixtures."""

from collections.abc import Collection

from litestar import Response, delete, get, patch, post
from litestar.datastructures import State
from litestar.di import NamedDependency
from litestar.params import FromPath, JSONBody

from snapline.wire.sites import AssetPage, AssetPatch, AssetQuery, SiteAsset
from snapline_service import conditional, merge_patch
from snapline_service.access.callers import Caller, needs
from snapline_service.database import reading
from snapline_service.fixtures.shelf import shelf_of
from snapline_service.listing import filters_of, page_of
from snapline_service.sites import actions, store
from snapline_service.sites.actions import Editor
from snapline_service.sites.tables import AssetRow
from snapline_service.sites.writing import write
from snapline_service.writing import Asked

_ASSET = "/v1/assets/{asset_id:str}"


@get(
    "/v1/assets",
    operation_id="list_assets",
    tags=["assets"],
    guards=[needs("read")],
    sync_to_thread=True,
    opt={"query": AssetQuery},
)
def list_assets(caller: NamedDependency[Caller], request: Asked, state: State) -> AssetPage:
    """List the physical fixtures of your group, ordered by id."""
    group_id = caller.principal.group_id
    wanted = filters_of(request, AssetQuery)
    with reading(state.engine) as session:
        items, following = page_of(
            SiteAsset, wanted, lambda after, limit: store.assets(session, group_id, wanted, after, limit)
        )
    return AssetPage(items=items, next_page_token=following)


@get(
    _ASSET,
    operation_id="get_asset",
    tags=["assets"],
    guards=[needs("read")],
    sync_to_thread=True,
    opt={"answers": SiteAsset, "tagged": True, "refused": ["404"]},
)
def get_asset(
    asset_id: FromPath[str], caller: NamedDependency[Caller], request: Asked, state: State
) -> Response[bytes]:
    """Get a physical fixture: what it is, where, in which condition, and until when its check holds."""
    with reading(state.engine) as session:
        row = actions.asset_row(session, caller.principal.group_id, asset_id)
    return conditional.answer(request, row.body.encode())


@post(
    "/v1/assets",
    operation_id="create_asset",
    tags=["assets"],
    guards=[needs("equip")],
    sync_to_thread=True,
    opt={"answers": SiteAsset, "writes": True, "tagged": True, "refused": ["409"]},
)
def create_asset(
    data: JSONBody[SiteAsset], caller: NamedDependency[Caller], request: Asked
) -> Response[bytes]:
    """Add a physical fixture to a site.

    Its type must be in the catalogue in force; before a group publishes its first, any will do.
    """

    def change(editor: Editor) -> SiteAsset:
        return actions.create_asset(editor, data, _fixtures(caller))

    return write(caller, request, change, status=201)


@patch(
    _ASSET,
    operation_id="update_asset",
    tags=["assets"],
    guards=[needs("equip")],
    sync_to_thread=True,
    opt={
        "answers": SiteAsset,
        "writes": True,
        "tagged": True,
        "conditional": True,
        "refused": ["404"],
        "media": merge_patch.MEDIA_TYPE,
    },
)
def update_asset(
    asset_id: FromPath[str], data: JSONBody[AssetPatch], caller: NamedDependency[Caller], request: Asked
) -> Response[bytes]:
    """Change a physical fixture by a merge patch; another ``site`` moves it there."""

    def change(editor: Editor) -> SiteAsset:
        row = _to_change(editor, request, asset_id)
        changed = actions.patched(row.body, data, SiteAsset)
        return actions.change_asset(editor, row, changed, _fixtures(caller))

    return write(caller, request, change)


@delete(
    _ASSET,
    operation_id="delete_asset",
    tags=["assets"],
    guards=[needs("equip")],
    status_code=200,
    sync_to_thread=True,
    opt={
        "answers": SiteAsset,
        "writes": True,
        "tagged": True,
        "conditional": True,
        "refused": ["404", "409"],
    },
)
def delete_asset(asset_id: FromPath[str], caller: NamedDependency[Caller], request: Asked) -> Response[bytes]:
    """Delete a physical fixture that no visit to come was promised; the answer is what it was."""

    def change(editor: Editor) -> SiteAsset:
        return actions.delete_asset(editor, _to_change(editor, request, asset_id))

    return write(caller, request, change)


def _to_change(editor: Editor, request: Asked, asset_id: str) -> AssetRow:
    row = actions.asset_row(editor.session, editor.group_id, asset_id, to_change=True)
    conditional.require_match(request, row.body.encode())
    return row


def _fixtures(caller: Caller) -> Collection[str] | None:
    return shelf_of(caller.published).fixtures if caller.published else None


HANDLERS = [list_assets, get_asset, create_asset, update_asset, delete_asset]
