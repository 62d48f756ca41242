"""Deliver events to webhooks: one process of all delivers, and whatever becomes of it, no event is lost.

An event is committed with what it tells of. Here it becomes a delivery of each webhook that wants it, in the
transaction that moves the webhook's mark; a delivery stays pending until a transaction says that it arrived.
Killed in between, it is sent again, under the same id.
"""

import asyncio
import logging
import random
import time
import uuid
from contextlib import suppress

import httpx
import msgspec
import sqlalchemy as sa
from msgspec import Struct
from sqlmodel import Session

from snapline_service.changes import store as changes
from snapline_service.changes.shown import event_of
from snapline_service.database import now, reading, writing
from snapline_service.settings import Settings
from snapline_service.webhooks import actions, signing, store
from snapline_service.webhooks.sending import Outcome, Parcel, new_client, send
from snapline_service.webhooks.tables import WebhookRow
from snapline_service.webhooks.times import in_s

# After the first attempt: 5 s, 30 s, 2 min, 10 min, 1 h, 5 h and 12 h later, each up to a fifth longer.
PAUSES_S = (5, 30, 120, 600, 3600, 18_000, 43_200)
_JITTER = 0.2
_LOOK_EVERY_S = 1.0
_LEASE_S = 10.0
_FINISH_WITHIN_S = 5.0
_EVENTS_AT_ONCE = 500
_WEBHOOKS_AT_ONCE = 50
_LOG_KEPT_S = 30 * 86_400
_FORGET_EVERY_S = 3600.0

log = logging.getLogger("snapline.webhooks")


class Job(Struct, frozen=True):
    """A delivery to be attempted."""

    webhook_id: str
    number: int
    attempts: int
    parcel: Parcel


class Deliverer:
    """Delivers while it holds the lease. Each webhook is served by itself, in the order of events."""

    def __init__(self, engine: sa.Engine, settings: Settings) -> None:
        self._engine = engine
        self._settings = settings
        self._name = uuid.uuid4().hex
        self._leased_until_s = 0.0
        self._forgot_s = time.monotonic()
        self._busy: dict[str, asyncio.Task[None]] = {}
        self.attempted = 0

    async def run(self, stopping: asyncio.Event) -> None:
        """Deliver what is there and what comes, until told to stop."""
        async with new_client() as client:
            while not stopping.is_set():
                try:
                    await self._look(client)
                except Exception:  # the database may be away for a while
                    log.exception("deliveries wait")
                with suppress(TimeoutError):
                    await asyncio.wait_for(stopping.wait(), _LOOK_EVERY_S)
            await self._finish()

    async def deliver_all(self) -> None:
        """Attempt once all that is due now."""
        async with new_client() as client:
            while await self._look(client):
                await asyncio.gather(*self._busy.values())
            await self._finish()

    async def _look(self, client: httpx.AsyncClient) -> bool:
        """Begin what waits; return whether anything is under way."""
        self._busy = {name: task for name, task in self._busy.items() if not task.done()}
        for webhook_id in await asyncio.to_thread(self._waiting):
            self._busy[webhook_id] = asyncio.create_task(self._serve(client, webhook_id))
        return bool(self._busy)

    def _waiting(self) -> list[str]:
        """Return the webhooks that something is to be sent to now."""
        with reading(self._engine) as session:
            if not store.work_waits(session, now()):
                return []
        if not self._holds_lease():
            return []
        with writing(self._engine) as session:
            for row in store.webhooks_behind(session):
                _hand_out(session, row)
            self._forget(session)
        with reading(self._engine) as session:
            free = max(_WEBHOOKS_AT_ONCE - len(self._busy), 0)
            return store.webhooks_with_work(session, now(), self._busy, free)

    def _holds_lease(self) -> bool:
        """Whether this is the one process that delivers; renewed when half of its time is over."""
        began_s = time.monotonic()
        if self._leased_until_s - began_s > _LEASE_S / 2:
            return True
        with writing(self._engine) as session:
            held = store.take_lease(session, self._name, now=now(), until=in_s(_LEASE_S))
        self._leased_until_s = began_s + _LEASE_S if held else 0.0
        return held

    def _forget(self, session: Session) -> None:
        if time.monotonic() - self._forgot_s > _FORGET_EVERY_S:
            store.forget_settled(session, in_s(-_LOG_KEPT_S))
            self._forgot_s = time.monotonic()

    async def _serve(self, client: httpx.AsyncClient, webhook_id: str) -> None:
        """Send to one webhook until nothing is due, something fails or the lease runs out."""
        allow_private = self._settings.webhooks_allow_private
        try:
            while time.monotonic() < self._leased_until_s:
                job = await asyncio.to_thread(self._next, webhook_id)
                if job is None:
                    return
                outcome = await send(client, job.parcel, allow_private=allow_private)
                self.attempted += 1
                await asyncio.to_thread(self._settle, job, outcome)
                if not outcome.arrived:
                    return
        except Exception:  # the delivery stays pending, and is sent again
            log.exception("a delivery could not be written down")

    def _next(self, webhook_id: str) -> Job | None:
        """Return what is due at a webhook as it is now: paused, deleted or rotated meanwhile, say."""
        with reading(self._engine) as session:
            found = store.next_due(session, webhook_id, now())
            if found is None:
                return None
            row, delivery, event = found
            secrets = signing.secrets_of(row, self._settings.secret, now())
            parcel = Parcel(row.url, secrets, event.id, msgspec.json.encode(event_of(event)))
            return Job(row.id, event.number, delivery.attempts, parcel)

    def _settle(self, job: Job, outcome: Outcome) -> None:
        with writing(self._engine) as session:
            if outcome.gone:
                row = session.get(WebhookRow, job.webhook_id, with_for_update=True)
                if row is not None and row.state == "active":
                    actions.disable(session, row, "The receiver answered 410 Gone.")
            store.settle(session, job.webhook_id, job.number, job.attempts, _left(job, outcome))
        fields = {"webhook_id": job.webhook_id, "event_id": job.parcel.event_id, "status": outcome.status}
        log.info(
            "delivery", extra={**fields, "duration_ms": outcome.duration_ms, "attempt": job.attempts + 1}
        )

    async def _finish(self) -> None:
        """Let what is under way end, for a moment, and let another process deliver."""
        if self._busy:
            _, late = await asyncio.wait(self._busy.values(), timeout=_FINISH_WITHIN_S)
            for task in late:
                task.cancel()
            await asyncio.gather(*late, return_exceptions=True)
        if self._leased_until_s:
            await asyncio.to_thread(self._leave)

    def _leave(self) -> None:
        with writing(self._engine) as session:
            store.leave_lease(session, self._name)
        self._leased_until_s = 0.0


def _hand_out(session: Session, row: WebhookRow) -> None:
    """Make deliveries of the events that a webhook has not been given yet."""
    events = changes.events(session, row.group_id, row.through, _EVENTS_AT_ONCE)
    webhook = actions.shown(row)
    wanted = [event.number for event in events if actions.wants(webhook, event_of(event))]
    store.add_deliveries(session, row.id, wanted, now())
    if events:
        row.through = events[-1].number
        session.add(row)


def _left(job: Job, outcome: Outcome) -> dict[str, object]:
    """Return what an attempt makes of a delivery."""
    made = job.attempts + 1
    state, due_at = "delivered", None
    if not outcome.arrived:
        if made <= len(PAUSES_S):
            state, due_at = "pending", in_s(PAUSES_S[made - 1] * random.uniform(1, 1 + _JITTER))  # noqa: S311
        else:
            state = "failed"
    return {
        "state": state,
        "attempts": made,
        "due_at": due_at,
        "attempted_at": now(),
        "response_status": outcome.status,
        "duration_ms": outcome.duration_ms,
        "said": outcome.said,
    }
