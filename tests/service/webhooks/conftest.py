"""A group with a webhook to a receiver of the test's own, and a deliverer that a test sets going."""

import asyncio
from collections.abc import Callable, Iterator
from typing import TypeVar

import msgspec
import pytest
import sqlalchemy as sa

from service.shop import Shop
from service.webhooks.receiver import Receiver, receiving
from snapline.wire.webhooks import DeliveryQuery, Webhook, WebhookRequest
from snapline_service.access.people import Person
from snapline_service.changes.record import record
from snapline_service.database import reading, writing
from snapline_service.webhooks import actions, store
from snapline_service.webhooks.actions import Administrator
from snapline_service.webhooks.delivering import Deliverer
from snapline_service.webhooks.tables import DeliveryRow, WebhookRow

ADA = Person("hld_ada", "Ada")
T = TypeVar("T")


class Post:
    """A webhook of a group, and what is done with it."""

    def __init__(self, shop: Shop, receiver: Receiver, types: tuple[str, ...] = ()) -> None:
        self.shop = shop
        self.receiver = receiver
        self.settings = msgspec.structs.replace(
            shop.settings, webhooks_allow_private=True, webhooks_deliver=True
        )
        issued = self.work(lambda admin: actions.create(admin, WebhookRequest(url=receiver.url, types=types)))
        assert issued.webhook
        assert issued.secret
        self.id, self.secret = issued.webhook.id, issued.secret

    def work(self, change: Callable[[Administrator], T]) -> T:
        """Do something as the group's administrator."""
        with writing(self.shop.engine) as session:
            return change(Administrator(session, self.settings, self.shop.group_id, ADA))

    def happens(self, *days: str) -> None:
        """Record a change of a site for each day."""
        for day in days:
            with writing(self.shop.engine) as session:
                record(
                    session,
                    group_id=self.shop.group_id,
                    by=ADA,
                    type="site.changed",
                    subject=f"/v1/sites/{day}",
                    data={"change": "created"},
                )

    def row(self, admin: Administrator) -> WebhookRow:
        return actions.found(admin.session, admin.group_id, self.id, to_change=True)

    def shown(self) -> Webhook:
        with reading(self.shop.engine) as session:
            return actions.shown(actions.found(session, self.shop.group_id, self.id))

    def deliver(self) -> int:
        """Attempt once all that is due; return how many attempts that took."""
        deliverer = Deliverer(self.shop.engine, self.settings)
        asyncio.run(deliverer.deliver_all())
        return deliverer.attempted

    def time_passes(self) -> None:
        """Make due what waits for its next attempt."""
        with writing(self.shop.engine) as session:
            session.exec(
                sa.update(DeliveryRow)
                .where(DeliveryRow.webhook_id == self.id, DeliveryRow.state == "pending")  # type: ignore[arg-type]
                .values(due_at="2020-01-01")
            )

    def log(self) -> list[DeliveryRow]:
        """Return the deliveries, oldest event first."""
        with reading(self.shop.engine) as session:
            row = actions.found(session, self.shop.group_id, self.id)
            return [one for one, _ in store.deliveries(session, row, DeliveryQuery(), None, 500)][::-1]


@pytest.fixture
def receiver() -> Iterator[Receiver]:
    with receiving() as made:
        yield made


@pytest.fixture
def post(shop: Shop, receiver: Receiver) -> Iterator[Post]:
    """A webhook of a new group, on each engine."""
    made = Post(shop, receiver)
    yield made
    made.work(lambda admin: actions.remove(admin, made.row(admin)))
