"""HTTP of the documents in a draft: the four kinds alike."""

from typing import Any

import msgspec
from litestar import Response, delete, get, patch, put
from litestar.datastructures import State
from litestar.di import NamedDependency
from litestar.handlers import HTTPRouteHandler
from litestar.params import FromPath, JSONBody
from sqlmodel import Session

from snapline.wire.catalogue import CatalogueDocument
from snapline_service import conditional, merge_patch
from snapline_service.access.callers import Caller, needs
from snapline_service.catalogue.documents import TYPES, canonical, decode, from_json, kind_of
from snapline_service.catalogue.tables import DraftRow
from snapline_service.conditional import require_match_or_new
from snapline_service.database import reading
from snapline_service.drafts import drafts
from snapline_service.drafts.routes import DRAFT
from snapline_service.errors import BadInput, Fault, NotFound
from snapline_service.merge_patch import merged
from snapline_service.writing import Asked, person_of, write


def _handlers(kind: str) -> list[HTTPRouteHandler]:
    """Return the operations on one kind of document."""
    wire_type = TYPES[kind]
    path = f"{DRAFT}/{kind}s/{{{kind}_id:str}}"
    article = "an" if kind == "operation" else "a"

    def read_it(
        draft_id: FromPath[str], caller: NamedDependency[Caller], request: Asked, state: State
    ) -> Response[bytes]:
        with reading(state.engine) as session:
            draft = drafts.found(session, caller.principal.group_id, draft_id)
            body = _there(session, draft, kind, request)
        return conditional.answer(request, body)

    def put_it(
        draft_id: FromPath[str], data: JSONBody[Any], caller: NamedDependency[Caller], request: Asked
    ) -> Response[bytes]:
        def change(session: Session) -> CatalogueDocument:
            draft = _held(session, caller, draft_id)
            require_match_or_new(request, _shown(session, draft, kind, request))
            return _keep(session, draft, caller, _name(kind, request), data)

        return write(caller, request, change)

    def patch_it(
        draft_id: FromPath[str],
        data: JSONBody[dict[str, Any]],
        caller: NamedDependency[Caller],
        request: Asked,
    ) -> Response[bytes]:
        def change(session: Session) -> CatalogueDocument:
            draft = _held(session, caller, draft_id)
            conditional.require_match(request, _there(session, draft, kind, request))
            before = drafts.document(session, draft, kind, _name(kind, request))
            document, faults = from_json(merged(drafts.json_of(before), data))
            if document is None or faults:
                raise BadInput(faults)
            return _keep(session, draft, caller, _name(kind, request), document)

        return write(caller, request, change)

    def retire_it(
        draft_id: FromPath[str], caller: NamedDependency[Caller], request: Asked
    ) -> Response[bytes]:
        def change(session: Session) -> CatalogueDocument:
            draft = _held(session, caller, draft_id)
            body = _there(session, draft, kind, request)
            conditional.require_match(request, body)
            drafts.put(session, draft, person_of(caller), kind=kind, name=_name(kind, request), body=None)
            return decode(kind, body)

        return write(caller, request, change)

    read_it.__doc__ = f"Get {article} {kind} as a draft has it, whether the draft changes it or not."
    put_it.__doc__ = f"""Add {article} {kind} to a draft, or replace it as a whole.

    ``If-None-Match: *`` adds it, If-Match replaces it. Its form is checked at once, what it refers to when
    the draft is validated or submitted.
    """
    patch_it.__doc__ = f"Change {article} {kind} in a draft by a merge patch; a list is replaced as a whole."
    retire_it.__doc__ = f"Retire {article} {kind} in a draft; the answer is what it was."
    put_it.__annotations__["data"] = JSONBody[wire_type]  # type: ignore[misc, valid-type] # one for each kind
    common: dict[str, Any] = {"tags": ["drafts"], "sync_to_thread": True}
    written = {"answers": wire_type, "writes": True, "tagged": True, "conditional": True}
    refused = ["404", "409"]
    edit, patched = {**common, "guards": [needs("edit")]}, merge_patch.MEDIA_TYPE
    answered = {"answers": wire_type, "tagged": True, "refused": ["404"]}
    return [
        get(path, operation_id=f"get_draft_{kind}", guards=[needs("read")], opt=answered, **common)(read_it),
        put(
            path, operation_id=f"put_draft_{kind}", opt={**written, "adds": True, "refused": refused}, **edit
        )(put_it),
        patch(
            path,
            operation_id=f"update_draft_{kind}",
            opt={**written, "refused": refused, "media": patched},
            **edit,
        )(patch_it),
        delete(
            path,
            operation_id=f"retire_draft_{kind}",
            status_code=200,
            opt={**written, "refused": refused},
            **edit,
        )(retire_it),
    ]


def _name(kind: str, request: Asked) -> str:
    return str(request.path_params[f"{kind}_id"])


def _held(session: Session, caller: Caller, draft_id: str) -> DraftRow:
    return drafts.found(session, caller.principal.group_id, draft_id, to_change=True)


def _shown(session: Session, draft: DraftRow, kind: str, request: Asked) -> bytes | None:
    """Return a document as answers give it; None if the draft has none of this name."""
    body = drafts.document(session, draft, kind, _name(kind, request))
    return msgspec.json.encode(decode(kind, body)) if body is not None else None


def _there(session: Session, draft: DraftRow, kind: str, request: Asked) -> bytes:
    body = _shown(session, draft, kind, request)
    if body is None:
        message = f"The draft has no {kind} '{_name(kind, request)[:80]}'."
        raise NotFound(message, mend=f"List what there is with GET /v1/{kind}s, or add it with PUT.")
    return body


def _keep(
    session: Session, draft: DraftRow, caller: Caller, name: str, document: CatalogueDocument
) -> CatalogueDocument:
    if document.id != name:
        detail = f"The body is about '{document.id}', the address about '{name[:80]}'."
        raise BadInput([Fault("/id", detail, "A document keeps its id: add another and retire this one.")])
    # Words that a later version may know are kept by the wire types; a catalogue takes the known ones alone.
    _, faults = from_json(msgspec.to_builtins(document))
    if faults:
        raise BadInput(faults)
    drafts.put(session, draft, person_of(caller), kind=kind_of(document), name=name, body=canonical(document))
    return document


HANDLERS = [handler for kind in TYPES for handler in _handlers(kind)]
