"""HTTP of bays."""

import msgspec
from litestar import Response, delete, get, patch, post, put
from litestar.datastructures import State
from litestar.di import NamedDependency
from litestar.params import FromPath, JSONBody

from snapline.wire.sites import Bay, BayList, BayPatch
from snapline_service import conditional, merge_patch
from snapline_service.access.callers import Caller, needs
from snapline_service.database import reading
from snapline_service.sites import actions, store
from snapline_service.sites.actions import Editor
from snapline_service.sites.tables import BayRow
from snapline_service.sites.writing import write
from snapline_service.writing import Asked

_BAYS = "/v1/sites/{site_id:str}/bays"
_BAY = "/v1/sites/{site_id:str}/bays/{bay_id:str}"


@get(
    _BAYS,
    operation_id="list_bays",
    tags=["sites"],
    guards=[needs("read")],
    sync_to_thread=True,
    opt={"refused": ["404"]},
)
def list_bays(site_id: FromPath[str], caller: NamedDependency[Caller], state: State) -> BayList:
    """List the bays of a site, ordered by id."""
    group_id = caller.principal.group_id
    with reading(state.engine) as session:
        actions.site_row(session, group_id, site_id)
        bodies = store.bays(session, group_id, site_id)
    return BayList(items=tuple(msgspec.json.decode(body, type=Bay) for body in bodies))


@get(
    _BAY,
    operation_id="get_bay",
    tags=["sites"],
    guards=[needs("read")],
    sync_to_thread=True,
    opt={"answers": Bay, "tagged": True, "refused": ["404"]},
)
def get_bay(
    site_id: FromPath[str],
    bay_id: FromPath[str],
    caller: NamedDependency[Caller],
    request: Asked,
    state: State,
) -> Response[bytes]:
    """Get a bay with its outline, obstacles, doors, light and floor survey."""
    with reading(state.engine) as session:
        row = actions.bay_row(session, caller.principal.group_id, site_id, bay_id)
    return conditional.answer(request, row.body.encode())


@post(
    _BAYS,
    operation_id="create_bay",
    tags=["sites"],
    guards=[needs("equip")],
    sync_to_thread=True,
    opt={"answers": Bay, "writes": True, "tagged": True, "refused": ["404", "409"]},
)
def create_bay(
    site_id: FromPath[str], data: JSONBody[Bay], caller: NamedDependency[Caller], request: Asked
) -> Response[bytes]:
    """Add a bay to a site."""
    return write(caller, request, lambda editor: actions.create_bay(editor, site_id, data), status=201)


@put(
    _BAY,
    operation_id="replace_bay",
    tags=["sites"],
    guards=[needs("equip")],
    sync_to_thread=True,
    opt={"answers": Bay, "writes": True, "tagged": True, "conditional": True, "refused": ["404"]},
)
def replace_bay(
    site_id: FromPath[str],
    bay_id: FromPath[str],
    data: JSONBody[Bay],
    caller: NamedDependency[Caller],
    request: Asked,
) -> Response[bytes]:
    """Replace a bay as a whole, such as after a new survey."""

    def change(editor: Editor) -> Bay:
        return actions.change_bay(editor, _to_change(editor, request, site_id, bay_id), data)

    return write(caller, request, change)


@patch(
    _BAY,
    operation_id="update_bay",
    tags=["sites"],
    guards=[needs("equip")],
    sync_to_thread=True,
    opt={
        "answers": Bay,
        "writes": True,
        "tagged": True,
        "conditional": True,
        "refused": ["404"],
        "media": merge_patch.MEDIA_TYPE,
    },
)
def update_bay(
    site_id: FromPath[str],
    bay_id: FromPath[str],
    data: JSONBody[BayPatch],
    caller: NamedDependency[Caller],
    request: Asked,
) -> Response[bytes]:
    """Change a bay by a merge patch; the bay that comes of it is checked as a whole."""

    def change(editor: Editor) -> Bay:
        row = _to_change(editor, request, site_id, bay_id)
        return actions.change_bay(editor, row, actions.patched(row.body, data, Bay))

    return write(caller, request, change)


@delete(
    _BAY,
    operation_id="delete_bay",
    tags=["sites"],
    guards=[needs("equip")],
    status_code=200,
    sync_to_thread=True,
    opt={"answers": Bay, "writes": True, "tagged": True, "conditional": True, "refused": ["404"]},
)
def delete_bay(
    site_id: FromPath[str], bay_id: FromPath[str], caller: NamedDependency[Caller], request: Asked
) -> Response[bytes]:
    """Delete a bay; the answer is what it was."""

    def change(editor: Editor) -> Bay:
        return editor.remove(_to_change(editor, request, site_id, bay_id), Bay)

    return write(caller, request, change)


def _to_change(editor: Editor, request: Asked, site_id: str, bay_id: str) -> BayRow:
    row = actions.bay_row(editor.session, editor.group_id, site_id, bay_id, to_change=True)
    conditional.require_match(request, row.body.encode())
    return row


HANDLERS = [list_bays, get_bay, create_bay, replace_bay, update_bay, delete_bay]
