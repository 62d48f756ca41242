"""Make, change, rotate and replay webhooks within one transaction."""

import msgspec
from msgspec import UNSET, Struct
from sqlmodel import Session

from snapline.wire.changes import EVENT_FILTERS, Event
from snapline.wire.webhooks import (
    IssuedWebhook,
    ReplayRequest,
    RotatedSecret,
    RotateRequest,
    Webhook,
    WebhookPatch,
    WebhookRequest,
)
from snapline_service.access.people import Person
from snapline_service.changes import store as changes
from snapline_service.changes.record import record
from snapline_service.database import new_id, now
from snapline_service.errors import BadInput, Conflict, Fault, InvalidValue, NotFound
from snapline_service.faults import nearest
from snapline_service.settings import Settings
from snapline_service.webhooks import addresses, signing, store
from snapline_service.webhooks.tables import WebhookRow
from snapline_service.webhooks.times import in_s

_MOST = 50
_SERVICE = Person("service", "the service itself")


class Administrator(Struct, frozen=True):
    """Who changes the webhooks of a group, in which transaction."""

    session: Session
    settings: Settings
    group_id: str
    person: Person

    def tell(self, row: WebhookRow, what: str, **data: object) -> None:
        """Record an event of a webhook."""
        tell(self.session, row, self.person, what, **data)


def found(session: Session, group_id: str, webhook_id: str, *, to_change: bool = False) -> WebhookRow:
    """Return a webhook. Raises NotFound."""
    row = store.webhook(session, group_id, webhook_id, to_change=to_change)
    if row is None:
        message = f"There is nothing called '{webhook_id[:80]}' here."
        raise NotFound(message, mend="List what there is with GET /v1/webhooks.")
    return row


def create(admin: Administrator, request: WebhookRequest) -> IssuedWebhook:
    """Make a webhook, which is sent what happens from now on. Raises InvalidValue, BadInput, Conflict."""
    if len(store.webhooks(admin.session, admin.group_id)) >= _MOST:
        raise Conflict(f"The group has {_MOST} webhooks already.", mend="Delete one that is not needed.")
    _require_usable(admin, request.url)
    _require_known(request.types)
    made = now()
    webhook = Webhook(
        id=new_id("whk"),
        url=request.url,
        types=request.types,
        description=request.description,
        state="active",
        disabled_because=None,
        created_at=made,
        updated_at=made,
    )
    row = WebhookRow(
        id=webhook.id,
        group_id=admin.group_id,
        state="",
        url="",
        body="",
        salt=signing.new_salt(),
        previous_salt=None,
        previous_until=None,
        through=changes.last_number(admin.session, admin.group_id),
    )
    _keep(admin.session, row, webhook)
    admin.tell(row, "created", types=list(webhook.types))
    return IssuedWebhook(webhook=webhook, secret=signing.secret_of(row.id, row.salt, admin.settings.secret))


def change(admin: Administrator, row: WebhookRow, patch: WebhookPatch) -> Webhook:
    """Change a webhook. Raises InvalidValue, BadInput."""
    given = {name: value for name, value in msgspec.structs.asdict(patch).items() if value is not UNSET}
    if "state" in given:
        _require_settable(given["state"])
    if "url" in given:
        _require_usable(admin, given["url"])
    _require_known(given.get("types", ()))
    before = shown(row)
    because = None if given.get("state") else before.disabled_because
    webhook = msgspec.structs.replace(before, **given, disabled_because=because)
    if webhook == before:
        return before
    webhook = msgspec.structs.replace(webhook, updated_at=now())
    _keep(admin.session, row, webhook)
    admin.tell(row, "changed", state=webhook.state, fields=sorted(given))
    return webhook


def remove(admin: Administrator, row: WebhookRow) -> Webhook:
    """Delete a webhook with its deliveries and return what it was."""
    webhook = shown(row)
    admin.session.delete(row)
    admin.session.flush()
    admin.tell(row, "deleted")
    return webhook


def rotate(admin: Administrator, row: WebhookRow, request: RotateRequest) -> RotatedSecret:
    """Give a webhook a new secret; the old one signs beside it for a while."""
    until = in_s(request.overlap_hours * 3600) if request.overlap_hours else None
    row.previous_salt, row.previous_until = (row.salt, until) if until else (None, None)
    row.salt = signing.new_salt()
    admin.session.add(row)
    admin.session.flush()
    admin.tell(row, "rotated", previous_until=until)
    secret = signing.secret_of(row.id, row.salt, admin.settings.secret)
    return RotatedSecret(secret=secret, previous_until=until)


def replay(admin: Administrator, row: WebhookRow, request: ReplayRequest) -> Webhook:
    """Have events sent again. Raises BadInput."""
    if (request.after is None) == (request.events is None):
        raise BadInput([Fault("", "What is to be sent again?", "Give 'after' or 'events', one of the two.")])
    if request.after is not None:
        row.through = min(row.through, request.after)
        admin.session.add(row)
    else:
        names = request.events or ()
        known = changes.named(admin.session, admin.group_id, names)
        faults = [
            Fault(f"/events/{n}", "There is no such event.", "Take ids from GET /v1/changes.", "UNKNOWN_NAME")
            for n, name in enumerate(names)
            if name not in known
        ]
        if faults:
            raise BadInput(faults)
        store.add_deliveries(admin.session, row.id, known.values(), now())
    admin.session.flush()
    admin.tell(row, "replayed", after=request.after, events=len(request.events or ()))
    return shown(row)


def disable(session: Session, row: WebhookRow, because: str) -> None:
    """Stop sending to a receiver that wants nothing any more."""
    webhook = msgspec.structs.replace(
        shown(row), state="disabled", disabled_because=because, updated_at=now()
    )
    _keep(session, row, webhook)
    tell(session, row, _SERVICE, "disabled")


def tell(session: Session, row: WebhookRow, by: Person, what: str, **data: object) -> None:
    """Record an event of a webhook."""
    record(
        session, group_id=row.group_id, by=by, type=f"webhook.{what}", subject=subject_of(row.id), data=data
    )


def shown(row: WebhookRow) -> Webhook:
    """Return a webhook as answers give it."""
    return msgspec.json.decode(row.body, type=Webhook)


def wants(webhook: Webhook, event: Event) -> bool:
    """Whether an event is for a webhook: one of its types, or a test of this very one."""
    if event.type == "webhook.tested":
        return event.subject == subject_of(webhook.id)
    if not webhook.types:
        return not event.type.startswith(("key.", "webhook."))
    return any(event.type == one or event.type.startswith(one + ".") for one in webhook.types)


def subject_of(webhook_id: str) -> str:
    """Return a webhook's address."""
    return f"/v1/webhooks/{webhook_id}"


def _keep(session: Session, row: WebhookRow, webhook: Webhook) -> None:
    row.state, row.url, row.body = webhook.state, webhook.url, msgspec.json.encode(webhook).decode()
    session.add(row)
    session.flush()


def _require_settable(state: str) -> None:
    if state in ("active", "paused"):
        return
    detail = f"A webhook cannot be '{state[:80]}'."
    if state == "disabled":
        detail = "Only the service itself disables a webhook."
    raise InvalidValue(detail, pointer="/state", mend="Set 'active' or 'paused'.")


def _require_known(types: tuple[str, ...]) -> None:
    """Refuse what no event will ever be: a type, or what stands before its dot."""
    known = list(EVENT_FILTERS)
    faults = [
        Fault(f"/types/{n}", f"There are no events '{name}'.", nearest(name, known), "UNKNOWN_NAME")
        for n, name in enumerate(types)
        if name not in known
    ]
    if faults:
        raise BadInput(faults)


def _require_usable(admin: Administrator, url: str) -> None:
    addresses.require_usable_url(url, allow_private=admin.settings.webhooks_allow_private)
