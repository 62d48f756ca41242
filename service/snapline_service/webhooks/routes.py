"""HTTP of webhooks."""

from collections.abc import Callable

from litestar import Response, delete, get, patch, post
from litestar.datastructures import State
from litestar.di import NamedDependency
from litestar.params import FromPath, JSONBody
from msgspec import Struct
from sqlmodel import Session

from snapline.wire.webhooks import (
    Delivery,
    DeliveryPage,
    DeliveryQuery,
    IssuedWebhook,
    ReplayRequest,
    RotatedSecret,
    RotateRequest,
    Webhook,
    WebhookList,
    WebhookPatch,
    WebhookRequest,
)
from snapline_service import conditional, merge_patch
from snapline_service.access.callers import Caller, needs
from snapline_service.changes.tables import EventRow
from snapline_service.database import reading
from snapline_service.idempotency.once import Done, perform
from snapline_service.listing import after, filters_of, next_token
from snapline_service.webhooks import actions, store
from snapline_service.webhooks.actions import Administrator
from snapline_service.webhooks.tables import DeliveryRow, WebhookRow
from snapline_service.writing import Asked, person_of, write

_WEBHOOKS, _WEBHOOK = "/v1/webhooks", "/v1/webhooks/{webhook_id:str}"
_CHANGES = {"answers": Webhook, "writes": True, "tagged": True, "conditional": True, "refused": ["404"]}


@get(
    _WEBHOOKS,
    operation_id="list_webhooks",
    tags=["webhooks"],
    guards=[needs("administer")],
    sync_to_thread=True,
)
def list_webhooks(caller: NamedDependency[Caller], state: State) -> WebhookList:
    """List the webhooks of your group, oldest first."""
    with reading(state.engine) as session:
        rows = store.webhooks(session, caller.principal.group_id)
    return WebhookList(items=tuple(map(actions.shown, rows)))


@get(
    _WEBHOOK,
    operation_id="get_webhook",
    tags=["webhooks"],
    guards=[needs("administer")],
    sync_to_thread=True,
    opt={"answers": Webhook, "tagged": True, "refused": ["404"]},
)
def get_webhook(
    webhook_id: FromPath[str], caller: NamedDependency[Caller], request: Asked, state: State
) -> Response[bytes]:
    """Get a webhook."""
    with reading(state.engine) as session:
        row = actions.found(session, caller.principal.group_id, webhook_id)
    return conditional.answer(request, row.body.encode())


@post(
    _WEBHOOKS,
    operation_id="create_webhook",
    tags=["webhooks"],
    guards=[needs("administer")],
    sync_to_thread=True,
    opt={"answers": IssuedWebhook, "writes": True, "refused": ["409"]},
)
def create_webhook(
    data: JSONBody[WebhookRequest], caller: NamedDependency[Caller], request: Asked
) -> Response[bytes]:
    """Have events sent to an address, from now on. The secret that signs them is in this answer alone.

    They follow Standard Webhooks 1.0. An answer of 2xx within 10 s counts as arrived; else it is tried again
    after 5 s, 30 s, 2 min, 10 min, 1 h, 5 h and 12 h, each up to a fifth longer, under the same id. Redirects
    are not followed. 410 disables the webhook.
    """

    def change(admin: Administrator) -> Done:
        issued = actions.create(admin, data)
        again = IssuedWebhook(webhook=issued.webhook, secret=None)
        return Done(201, issued, again, IssuedWebhook(webhook=None, secret=None))

    return _perform(caller, request, change)


@patch(
    _WEBHOOK,
    operation_id="update_webhook",
    tags=["webhooks"],
    guards=[needs("administer")],
    sync_to_thread=True,
    opt={**_CHANGES, "media": merge_patch.MEDIA_TYPE},
)
def update_webhook(
    webhook_id: FromPath[str], data: JSONBody[WebhookPatch], caller: NamedDependency[Caller], request: Asked
) -> Response[bytes]:
    """Change a webhook by a merge patch: pause it, or make it active again, say."""

    def change(session: Session) -> Struct:
        row = _to_change(session, caller, request, webhook_id)
        return actions.change(_admin(session, caller, request), row, data)

    return write(caller, request, change)


@delete(
    _WEBHOOK,
    operation_id="delete_webhook",
    tags=["webhooks"],
    guards=[needs("administer")],
    status_code=200,
    sync_to_thread=True,
    opt=_CHANGES,
)
def delete_webhook(
    webhook_id: FromPath[str], caller: NamedDependency[Caller], request: Asked
) -> Response[bytes]:
    """Delete a webhook with the log of its deliveries; the answer is what it was."""

    def change(session: Session) -> Struct:
        row = _to_change(session, caller, request, webhook_id)
        return actions.remove(_admin(session, caller, request), row)

    return write(caller, request, change)


@post(
    f"{_WEBHOOK}/rotate",
    operation_id="rotate_webhook",
    tags=["webhooks"],
    guards=[needs("administer")],
    status_code=200,
    sync_to_thread=True,
    opt={"answers": RotatedSecret, "writes": True, "refused": ["404"]},
)
def rotate_webhook(
    webhook_id: FromPath[str], data: JSONBody[RotateRequest], caller: NamedDependency[Caller], request: Asked
) -> Response[bytes]:
    """Give a webhook a new secret, which is in this answer alone. For a while both secrets sign."""

    def change(admin: Administrator) -> Done:
        row = actions.found(admin.session, admin.group_id, webhook_id, to_change=True)
        rotated = actions.rotate(admin, row, data)
        again = RotatedSecret(secret=None, previous_until=rotated.previous_until)
        return Done(200, rotated, again, again)

    return _perform(caller, request, change)


@post(
    f"{_WEBHOOK}/replay",
    operation_id="replay_webhook",
    tags=["webhooks"],
    guards=[needs("administer")],
    status_code=202,
    sync_to_thread=True,
    opt={"answers": Webhook, "writes": True, "refused": ["404"]},
)
def replay_webhook(
    webhook_id: FromPath[str], data: JSONBody[ReplayRequest], caller: NamedDependency[Caller], request: Asked
) -> Response[bytes]:
    """Send events again, under the ids that they have."""

    def change(admin: Administrator) -> Done:
        row = actions.found(admin.session, admin.group_id, webhook_id, to_change=True)
        left = actions.replay(admin, row, data)
        return Done(202, left, left, left)

    return _perform(caller, request, change)


@post(
    f"{_WEBHOOK}/test",
    operation_id="test_webhook",
    tags=["webhooks"],
    guards=[needs("administer")],
    status_code=202,
    sync_to_thread=True,
    opt={"answers": Webhook, "writes": True, "refused": ["404"]},
)
def test_webhook(
    webhook_id: FromPath[str], caller: NamedDependency[Caller], request: Asked
) -> Response[bytes]:
    """Send an event ``webhook.tested`` to this webhook, whatever its types are."""

    def change(admin: Administrator) -> Done:
        row = actions.found(admin.session, admin.group_id, webhook_id)
        admin.tell(row, "tested")
        left = actions.shown(row)
        return Done(202, left, left, left)

    return _perform(caller, request, change)


@get(
    f"{_WEBHOOK}/deliveries",
    operation_id="list_deliveries",
    tags=["webhooks"],
    guards=[needs("administer")],
    sync_to_thread=True,
    opt={"query": DeliveryQuery, "refused": ["404"]},
)
def list_deliveries(
    webhook_id: FromPath[str], caller: NamedDependency[Caller], request: Asked, state: State
) -> DeliveryPage:
    """List what was sent to a webhook and how it went, newest event first; settled ones for 30 days."""
    wanted = filters_of(request, DeliveryQuery)
    (before,) = after(wanted, int) or (None,)
    with reading(state.engine) as session:
        row = actions.found(session, caller.principal.group_id, webhook_id)
        rows = store.deliveries(session, row, wanted, before, wanted.page_size + 1)
    token = next_token(wanted, rows, lambda found: [found[0].number])
    items = tuple(_delivery(*found) for found in rows[: wanted.page_size])
    return DeliveryPage(items=items, next_page_token=token)


def _delivery(row: DeliveryRow, event: EventRow) -> Delivery:
    return Delivery(
        event_id=event.id,
        event_type=event.type,
        cursor=event.number,
        state=row.state,
        attempts=row.attempts,
        next_attempt_at=row.due_at,
        attempted_at=row.attempted_at,
        response_status=row.response_status,
        duration_ms=row.duration_ms,
        said=row.said,
    )


def _to_change(session: Session, caller: Caller, request: Asked, webhook_id: str) -> WebhookRow:
    row = actions.found(session, caller.principal.group_id, webhook_id, to_change=True)
    conditional.require_match(request, row.body.encode())
    return row


def _admin(session: Session, caller: Caller, request: Asked) -> Administrator:
    settings = request.app.state.settings
    return Administrator(session, settings, caller.principal.group_id, person_of(caller))


def _perform(caller: Caller, request: Asked, change: Callable[[Administrator], Done]) -> Response[bytes]:
    """Make a change once."""
    engine, group_id = request.app.state.engine, caller.principal.group_id
    return perform(engine, group_id, request, lambda session: change(_admin(session, caller, request)))


HANDLERS = [
    list_webhooks,
    get_webhook,
    create_webhook,
    update_webhook,
    delete_webhook,
    rotate_webhook,
    replay_webhook,
    test_webhook,
    list_deliveries,
]
