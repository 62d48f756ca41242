"""People at work on a group's catalogue over HTTP."""

from collections.abc import Iterable
from typing import Any

import httpx

from service import small
from service.shop import Shop

ALL = ("read", "edit", "review", "administer")
OPENED: list[httpx.Client] = []


class Desk:
    """One holder with a key; ``etag`` headers are fetched fresh unless given."""

    def __init__(self, shop: Shop, url: str, holder: str, scopes: Iterable[str] = ALL) -> None:
        self.shop = shop
        self.url = url
        self.holder = holder
        self.http = self.another_key(*scopes)

    def another_key(self, *scopes: str) -> httpx.Client:
        """Return a client with another key of the same holder."""
        token = self.shop.key(*(scopes or ALL), holder=self.holder).token
        client = httpx.Client(base_url=self.url, headers={"authorization": f"Bearer {token}"}, timeout=30)
        OPENED.append(client)
        return client

    def get(self, path: str) -> Any:
        answer = self.http.get(path)
        assert answer.status_code == 200, answer.text
        return answer.json()

    def etag(self, path: str) -> str:
        return self.http.get(path).headers["etag"]

    def begin(self, note: str = "") -> str:
        """Begin a draft and return its path."""
        answer = self.http.post("/v1/drafts", json={"note": note})
        assert answer.status_code == 201, answer.text
        return f"/v1/drafts/{answer.json()['id']}"

    def put(self, draft: str, document: small.Document) -> httpx.Response:
        """Add or replace a document."""
        path = f"{draft}/{document['kind']}s/{document['id']}"
        there = self.http.get(path)
        headers = {"if-match": there.headers["etag"]} if there.status_code == 200 else {"if-none-match": "*"}
        return self.http.put(path, json=document, headers=headers)

    def patch(self, path: str, patch: small.Document) -> httpx.Response:
        headers = {"if-match": self.etag(path), "content-type": "application/merge-patch+json"}
        return self.http.patch(path, json=patch, headers=headers)

    def retire(self, path: str) -> httpx.Response:
        return self.http.delete(path, headers={"if-match": self.etag(path)})

    def act(self, draft: str, act: str, http: httpx.Client | None = None, **body: Any) -> httpx.Response:
        """Submit, approve, publish … a draft as it is now; warnings are acknowledged unless that is given."""
        if act == "submit":
            body = {"acknowledgements": self.acknowledging(draft), **body}
        headers = {"if-match": self.etag(draft)}
        sent = body if body or act == "submit" else None
        return (http or self.http).post(f"{draft}/{act}", headers=headers, json=sent)

    def acknowledging(self, draft: str) -> list[dict[str, str]]:
        """Return an acknowledgement of every warning of a draft."""
        report = self.http.post(f"{draft}/validate").json()
        found = [one["id"] for one in report["items"] if one["severity"] == "warning"]
        return [{"finding": finding, "reason": "Invented twins."} for finding in found]

    def done(self, draft: str, act: str, **body: Any) -> Any:
        answer = self.act(draft, act, **body)
        assert answer.status_code in (200, 201), answer.text
        return answer.json()


class Office:
    """A group with a small catalogue in force, and two who may edit and review."""

    def __init__(self, shop: Shop, url: str) -> None:
        self.shop = shop
        self.url = url
        shop.put(small.catalogue())
        self.ada = Desk(shop, url, "Ada")
        self.ben = Desk(shop, url, "Ben")

    def publish(self, *documents: small.Document) -> int:
        """Have Ada change documents and Ben agree; return the revision."""
        draft = self.ada.begin()
        for document in documents:
            answer = self.ada.put(draft, document)
            assert answer.status_code == 200, answer.text
        return self.agree(draft)

    def agree(self, draft: str) -> int:
        self.ada.done(draft, "submit")
        self.ben.done(draft, "approve")
        return int(self.ben.done(draft, "publish")["number"])
