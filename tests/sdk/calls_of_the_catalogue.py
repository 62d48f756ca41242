"""What the SDK's methods for the catalogue, notes, events and webhooks send."""

from collections.abc import Callable
from typing import Any

import msgspec

from snapline.wire.catalogue import SourceDocument
from snapline.wire.drafts import Acknowledgement
from snapline.wire.notes import NotePatch, NoteRequest
from snapline.wire.webhooks import WebhookPatch, WebhookRequest

# Method and path, the call, and the body or query that it sends; None is no body at all.
Contract = tuple[str, str, Callable[[Any], Any], Any]

SOURCE = SourceDocument(
    format=1, id="one", title="One", edition="1", published_on="2026-01-01", invented=True
)
SOURCE_SENT = msgspec.json.decode(msgspec.json.encode(SOURCE))
TAG = '"t"'
DRAFT = "/v1/drafts/d"
AT = f"{DRAFT}/sources/one"

DRAFTS: list[Contract] = [
    ("POST", "/v1/drafts", lambda client: client.drafts.begin("why"), {"note": "why"}),
    ("GET", "/v1/drafts", lambda client: client.drafts.list(state="draft"), {"state": "draft"}),
    ("GET", DRAFT, lambda client: client.drafts.get("d"), {}),
    ("PATCH", DRAFT, lambda client: client.drafts.annotate("d", "why", etag=TAG), {"note": "why"}),
    ("DELETE", DRAFT, lambda client: client.drafts.drop("d", etag=TAG), {}),
    ("GET", f"{DRAFT}/changes", lambda client: client.drafts.changes("d", page_size=5), {"page_size": "5"}),
    ("GET", AT, lambda client: client.drafts.document("d", SourceDocument, "one"), {}),
    ("PUT", AT, lambda client: client.drafts.put("d", SOURCE), SOURCE_SENT),
    (
        "PATCH",
        AT,
        lambda client: client.drafts.patch("d", SourceDocument, "one", {"edition": None}, etag=TAG),
        {"edition": None},
    ),
    ("DELETE", AT, lambda client: client.drafts.retire("d", SourceDocument, "one", etag=TAG), {}),
    ("POST", f"{DRAFT}/rebase", lambda client: client.drafts.rebase("d", etag=TAG), None),
    ("GET", f"{DRAFT}/conflicts", lambda client: client.drafts.conflicts("d"), {}),
    (
        "POST",
        f"{DRAFT}/conflicts/2",
        lambda client: client.drafts.settle("d", 2, "value", None, etag=TAG),
        {"take": "value", "value": None},
    ),
    ("POST", f"{DRAFT}/validate", lambda client: client.drafts.validate("d"), None),
    ("GET", f"{DRAFT}/diff", lambda client: client.drafts.diff("d"), {}),
    ("GET", f"{DRAFT}/diff", lambda client: client.drafts.diff_html("d"), {}),
    ("GET", f"{DRAFT}/impact", lambda client: client.drafts.impact("d"), {}),
    (
        "POST",
        f"{DRAFT}/submit",
        lambda client: client.drafts.submit(
            "d", "read", [Acknowledgement(finding="f", reason="so it is")], etag=TAG
        ),
        {"text": "read", "acknowledgements": [{"finding": "f", "reason": "so it is"}]},
    ),
    ("POST", f"{DRAFT}/comments", lambda client: client.drafts.comment("d", "why?"), {"text": "why?"}),
    ("GET", f"{DRAFT}/review", lambda client: client.drafts.review("d"), {}),
    ("POST", f"{DRAFT}/approve", lambda client: client.drafts.approve("d", etag=TAG), None),
    (
        "POST",
        f"{DRAFT}/send-back",
        lambda client: client.drafts.send_back("d", "not so", etag=TAG),
        {"text": "not so"},
    ),
    ("POST", f"{DRAFT}/publish", lambda client: client.drafts.publish("d", etag=TAG), None),
]
REVISIONS: list[Contract] = [
    ("GET", "/v1/revisions", lambda client: client.revisions.list(page_size=5), {"page_size": "5"}),
    ("GET", "/v1/revisions/3", lambda client: client.revisions.get(3), {}),
    ("GET", "/v1/revisions/2/diff/3", lambda client: client.revisions.diff(2, 3), {}),
    ("GET", "/v1/revisions/2/diff/3", lambda client: client.revisions.diff_html(2, 3), {}),
    ("GET", "/v1/revisions/2/impact", lambda client: client.revisions.impact(2), {}),
    ("POST", "/v1/revisions/2/restore", lambda client: client.revisions.restore(2, "why"), {"note": "why"}),
    ("GET", "/v1/revisions/3/files", lambda client: client.revisions.download("folder", 3), {}),
    (
        "GET",
        "/v1/revisions/3/spreadsheet",
        lambda client: client.spreadsheets.export(3, format="csv", sheet="fixtures"),
        {"format": "csv", "sheet": "fixtures"},
    ),
]
NOTES: list[Contract] = [
    ("GET", "/v1/notes", lambda client: client.notes.list(site="one"), {"site": "one"}),
    ("GET", "/v1/notes/n", lambda client: client.notes.get("n"), {}),
    (
        "POST",
        "/v1/notes",
        lambda client: client.notes.create(NoteRequest(vehicle_id="v", text="long bay")),
        {"vehicle_id": "v", "text": "long bay"},
    ),
    (
        "PATCH",
        "/v1/notes/n",
        lambda client: client.notes.update("n", NotePatch(prefers_bay=None), etag=TAG),
        {"prefers_bay": None},
    ),
    ("DELETE", "/v1/notes/n", lambda client: client.notes.delete("n", etag=TAG), {}),
]
EVENTS: list[Contract] = [
    (
        "GET",
        "/v1/changes",
        lambda client: client.changes.list(after=7, limit=5),
        {"after": "7", "limit": "5"},
    ),
    ("GET", "/v1/audit", lambda client: client.changes.audit(type="key"), {"type": "key"}),
    ("GET", "/v1/webhooks", lambda client: client.webhooks.list(), {}),
    ("GET", "/v1/webhooks/w", lambda client: client.webhooks.get("w"), {}),
    (
        "POST",
        "/v1/webhooks",
        lambda client: client.webhooks.create(WebhookRequest(url="https://hooks.example.com/")),
        {"url": "https://hooks.example.com/"},
    ),
    (
        "PATCH",
        "/v1/webhooks/w",
        lambda client: client.webhooks.update("w", WebhookPatch(state="paused"), etag=TAG),
        {"state": "paused"},
    ),
    ("DELETE", "/v1/webhooks/w", lambda client: client.webhooks.delete("w", etag=TAG), {}),
    (
        "POST",
        "/v1/webhooks/w/rotate",
        lambda client: client.webhooks.rotate("w", overlap_hours=48),
        {"overlap_hours": 48},
    ),
    ("POST", "/v1/webhooks/w/replay", lambda client: client.webhooks.replay("w", after=7), {"after": 7}),
    ("POST", "/v1/webhooks/w/test", lambda client: client.webhooks.test("w"), None),
    (
        "GET",
        "/v1/webhooks/w/deliveries",
        lambda client: client.webhooks.deliveries("w", state="failed"),
        {"state": "failed"},
    ),
]
CALLS = DRAFTS + REVISIONS + NOTES + EVENTS
