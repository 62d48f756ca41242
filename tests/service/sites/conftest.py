"""Groups of their own in the demo service, on both engines."""

from collections.abc import Callable, Iterator
from contextlib import ExitStack

import httpx
import pytest

from running import Service
from service import small
from service.shop import Shop
from service.sites.workshop import ASSET, BAY, SITE, Workshop
from snapline_service.database import new_id

NewWorkshop = Callable[..., Workshop]


@pytest.fixture
def new_workshop(
    demo_service: tuple[Service, str], tmp_path_factory: pytest.TempPathFactory
) -> Iterator[NewWorkshop]:
    """Make a group without any site, by default with a small catalogue and a key for everything."""
    service, _ = demo_service
    with ExitStack() as opened:
        engine = opened.enter_context(service.engine())

        def make(*scopes: str, published: bool = True) -> Workshop:
            folder = tmp_path_factory.mktemp("workshop")
            shop = Shop(engine, service.settings, folder, f"workshop-{new_id('x')}")
            if published:
                shop.put(small.catalogue())
            headers = {"authorization": f"Bearer {shop.key(*scopes, holder='Wanda').token}"}
            http = opened.enter_context(httpx.Client(base_url=service.url, headers=headers))
            return Workshop(http, shop.group_id)

        yield make


@pytest.fixture
def workshop(new_workshop: NewWorkshop) -> Workshop:
    """A group with one site, one bay and one asset."""
    made = new_workshop()
    made.add("/v1/sites", SITE)
    made.add("/v1/sites/elm-yard/bays", BAY)
    made.add("/v1/assets", ASSET)
    return made
