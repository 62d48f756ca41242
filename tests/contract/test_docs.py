"""The documentation page works where there is no internet: everything comes from the service itself."""

import base64
import hashlib
import re
from collections.abc import Iterator
from html.parser import HTMLParser

import httpx
import pytest

from contract.api import DOCUMENT, on_sqlite
from running import Service

pytestmark = on_sqlite


class Page(HTMLParser):
    """What a page refers to, and its scripts."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.links: list[str] = []
        self.scripts: list[str] = []
        self._in_script = False
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.links += [value or "" for name, value in attrs if name in ("src", "href")]
        self._in_script = tag == "script" and "src" not in dict(attrs)

    def handle_data(self, data: str) -> None:
        if self._in_script:
            self.scripts.append(data)
        self._in_script = False


@pytest.fixture
def stranger(demo_service: tuple[Service, str]) -> Iterator[httpx.Client]:
    """A browser, which has no key."""
    service, _ = demo_service
    with httpx.Client(base_url=service.url) as client:
        yield client


def test_the_page_refers_to_nothing_elsewhere_and_all_that_it_refers_to_is_there(
    stranger: httpx.Client,
) -> None:
    answer = stranger.get("/docs")
    assert answer.headers["content-type"] == "text/html; charset=utf-8"
    page = Page(answer.text)
    assert "http://" not in answer.text
    assert "https://" not in answer.text
    assets = [link for link in page.links if not link.startswith("data:")]
    assert {link.rpartition("/")[2] for link in assets} == {"swagger-ui.css", "swagger-ui-bundle.js"}
    for link in assets:
        asset = stranger.get(f"/{link}")
        assert asset.status_code == 200
        assert set(asset.headers["cache-control"].split(", ")) == {"public", "max-age=31536000", "immutable"}
        kind = "text/css" if link.endswith(".css") else "text/javascript"
        assert asset.headers["content-type"].partition(";")[0] == kind


def test_the_style_sheet_fetches_nothing(stranger: httpx.Client) -> None:
    (link,) = (link for link in Page(stranger.get("/docs").text).links if link.endswith(".css"))
    style = stranger.get(f"/{link}").text
    assert "@import" not in style
    assert all(re.match(r"""["']?data:""", target) for target in re.findall(r"url\(([^)]*)", style))


def test_the_browser_is_told_to_fetch_from_this_host_alone(stranger: httpx.Client) -> None:
    answer = stranger.get("/docs")
    policy = dict(part.strip().split(" ", 1) for part in answer.headers["content-security-policy"].split(";"))
    (script,) = Page(answer.text).scripts
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    assert policy["default-src"] == "'none'"
    assert policy["connect-src"] == "'self'"
    assert policy["script-src"] == f"'self' 'sha256-{digest}'"
    allowed = {source for sources in policy.values() for source in sources.split()}
    assert all(source.startswith("'") or source == "data:" for source in allowed)


def test_the_page_shows_this_very_document(stranger: httpx.Client) -> None:
    (script,) = Page(stranger.get("/docs").text).scripts
    assert 'url: "openapi.json"' in script
    answer = stranger.get("/openapi.json")
    assert answer.headers["content-type"] == "application/json"
    assert answer.json() == DOCUMENT


@pytest.mark.parametrize("address", ["/schema", "/schema/redoc", "/schema/swagger"])
def test_the_frameworks_own_pages_which_load_scripts_from_elsewhere_are_off(
    stranger: httpx.Client, address: str
) -> None:
    assert stranger.get(address).status_code == 404
