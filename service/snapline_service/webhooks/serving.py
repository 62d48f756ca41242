"""Deliver beside the service, in each of its workers: the one that holds the lease does."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from litestar import Litestar

from snapline_service.settings import Settings
from snapline_service.webhooks.delivering import Deliverer


@asynccontextmanager
async def delivering(app: Litestar) -> AsyncIterator[None]:
    """Deliver from the start of a worker to its end."""
    settings: Settings = app.state.settings
    if not settings.webhooks_deliver:
        yield
        return
    stopping = asyncio.Event()
    task = asyncio.create_task(Deliverer(app.state.engine, settings).run(stopping))
    yield
    stopping.set()
    await task
