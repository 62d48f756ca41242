"""Commands for webhooks."""

import asyncio
import signal

import click

from snapline_service.cli.options import database_option, opened, out
from snapline_service.webhooks.delivering import Deliverer


@click.group()
def webhooks() -> None:
    """Deliver events to webhooks.

    `snapline serve` does so by itself, unless SNAPLINE_WEBHOOKS_DELIVER=0. They go to public addresses alone,
    by https, unless SNAPLINE_WEBHOOKS_ALLOW_PRIVATE=1.
    """


@webhooks.command("deliver")
@click.option("--forever", is_flag=True, help="Go on until stopped. Default: attempt once all that is due.")
@database_option
def deliver(forever: bool, database_url: str | None) -> None:
    """Deliver what waits, unless another process is doing so."""
    with opened(database_url) as (engine, settings):
        deliverer = Deliverer(engine, settings)
        asyncio.run(_until_stopped(deliverer) if forever else deliverer.deliver_all())
    out.print(f"Attempts made: {deliverer.attempted}.")


async def _until_stopped(deliverer: Deliverer) -> None:
    stopping = asyncio.Event()
    loop = asyncio.get_running_loop()
    for number in (signal.SIGINT, signal.SIGTERM):
        loop.add_signal_handler(number, stopping.set)
    await deliverer.run(stopping)
