"""What an example is about is made before it is sent: a draft, a conflict, a visit, by two people."""

import itertools
import time
from collections.abc import Callable, Mapping
from contextlib import ExitStack
from typing import Any, Self

import httpx

from contract.api import OPERATIONS, Operation
from running import Service
from snapline_service.access import keys
from snapline_service.demo.scenario import GROUP

Json = dict[str, Any]

# What an example creates is deleted by one, so that the scenario stays as it was.
DELETES = {
    "create_site": "delete_site",
    "create_bay": "delete_bay",
    "create_asset": "delete_asset",
    "create_note": "delete_note",
    "create_webhook": "delete_webhook",
}
PATCH = {"content-type": "application/merge-patch+json"}
ANY = {"if-match": "*"}
_MAT = "fixtures/mat-long"


class Scene:
    """The demo service with two people at work: the holder of the key with every scope, and a second one."""

    def __init__(self, service: Service, key: str) -> None:
        self.service = service
        with service.engine() as engine:
            second = keys.issue(
                engine,
                service.settings.secret,
                group=GROUP,
                holder="second",
                scopes=("read", "edit", "review"),
            )
        self._open = ExitStack()
        self.first, self.second = (
            self._open.enter_context(
                httpx.Client(base_url=service.url, headers={"authorization": f"Bearer {token}"}, timeout=30)
            )
            for token in (key, second.token)
        )
        self._masses_kg = itertools.count(20)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._open.close()

    def names(self, operation: Operation) -> dict[str, str]:
        """Make what an operation's example is about; return its names in the path."""
        made: dict[str, Callable[[], dict[str, str]]] = {
            "{draft_id}": lambda: {"draft_id": self._draft(operation)},
            "{visit_id}": lambda: {"visit_id": self.send("keep_visit")["id"]},
            "{note_id}": lambda: {"note_id": self.send("create_note")["id"]},
            "{webhook_id}": lambda: {"webhook_id": self.send("create_webhook")["webhook"]["id"]},
            "{key_id}": lambda: {"key_id": self.send("issue_key")["key"]["id"]},
        }
        names: dict[str, str] = {}
        for part, make in made.items():
            if part in operation.path:
                names |= make()
        if operation.id in ("list_revision_files", "download_revision_file"):
            names |= self._file()
        if operation.id == "get_revision_impact":
            names["number"] = self._newest()
        if operation.id == "list_deliveries":
            events = [event["id"] for event in _done(self.first.get("/v1/changes"))["items"][:3]]
            again = {"events": events}
            _done(self.first.post(f"/v1/webhooks/{names['webhook_id']}/replay", json=again))
        if operation.id in ("delete_site", "delete_bay", "delete_asset"):
            (creation,) = (name for name, deletion in DELETES.items() if deletion == operation.id)
            noun = creation.removeprefix("create_")
            names |= {f"{noun}_id": self.send(creation)["id"]}
        if operation.id.startswith("put_draft_"):
            self._add(names["draft_id"], operation)
        return names

    def send(self, operation_id: str, **more: Any) -> Any:
        """Send an operation's example as the first person does, and return what it makes."""
        return _done(self.first.send(OPERATIONS[operation_id].request(self.first, **more)))

    def clear(self, operation: Operation, names: Mapping[str, str]) -> None:
        """Take away what an example has made, so that the next finds everything free."""
        if operation.id in DELETES:
            made = OPERATIONS[operation.id].request(self.first, names).url.path
            for there in _done(self.first.get(made))["items"]:
                if operation.body and _is_of(operation.body["example"], there):
                    self.first.delete(f"{made}/{there['id']}", headers=ANY).raise_for_status()
        if "webhook_id" in names:
            self.first.delete(f"/v1/webhooks/{names['webhook_id']}", headers=ANY)
        if operation.described["tags"] == ["visits"]:
            self._cancel_visits()

    def _newest(self) -> str:
        """Return the number of the revision in force, which is not the first."""
        return str(_done(self.first.get("/v1/revisions"))["items"][0]["number"])

    def _file(self) -> dict[str, str]:
        """Return the names of the first file of the revision in force."""
        number = self._newest()
        files = _done(self.first.get(f"/v1/revisions/{number}/files"))["items"]
        return {"number": number, "file_name": files[0]["name"]}

    def _draft(self, operation: Operation) -> str:
        stages = {
            "submit_draft": self._edited,
            "approve_draft": self._submitted,
            "send_draft_back": self._submitted,
            "publish_draft": self._approved,
            "rebase_draft": self._overtaken,
            "settle_conflict": self._conflicting,
        }
        return stages.get(operation.id, self._edited)().rpartition("/")[2]

    def _edited(self, by: httpx.Client | None = None) -> str:
        by = by or self.first
        draft = f"/v1/drafts/{_done(by.post('/v1/drafts', json={}))['id']}"
        mass = {"mass_kg": next(self._masses_kg)}
        _done(by.patch(f"{draft}/{_MAT}", json=mass, headers=ANY | PATCH))
        return draft

    def _submitted(self) -> str:
        draft = self._edited(self.second)
        found = _done(self.second.post(f"{draft}/validate"))["items"]
        reasons = [{"finding": one["id"], "reason": "It stands in the source."} for one in found]
        _done(self.second.post(f"{draft}/submit", json={"acknowledgements": reasons}, headers=ANY))
        return draft

    def _approved(self) -> str:
        draft = self._submitted()
        _done(self.first.post(f"{draft}/approve", headers=ANY))
        return draft

    def _conflicting(self) -> str:
        draft = self._overtaken()
        _done(self.first.post(f"{draft}/rebase", headers=ANY))
        return draft

    def _overtaken(self) -> str:
        """Return a draft whose base is not in force any more."""
        draft = self._edited()
        number = _done(self.first.post(f"{self._approved()}/publish", headers=ANY))["number"]
        self._wait_for(number)
        return draft

    def _wait_for(self, revision: int) -> None:
        """Wait until look-ups are answered from a revision, which takes a second at most."""
        while int(self.first.get("/v1/vehicles").headers["catalogue-revision"]) < revision:
            time.sleep(0.05)

    def _add(self, draft_id: str, operation: Operation) -> None:
        """Add what an example replaces."""
        request = operation.request(self.first, {"draft_id": draft_id}, headers={"if-none-match": "*"})
        _done(self.first.send(request))

    def _cancel_visits(self) -> None:
        """Cancel what is kept for the day of the examples."""
        keep = OPERATIONS["keep_visit"].body
        assert keep is not None
        day = keep["example"]["request"]["date"]
        for visit in _done(self.first.get("/v1/visits", params={"date": day}))["items"]:
            if visit["state"] in ("planned", "in_work"):
                address = f"/v1/visits/{visit['id']}"
                _done(self.first.patch(address, json={"state": "cancelled"}, headers=ANY | PATCH))


def _is_of(example: Json, there: Json) -> bool:
    """Say whether something is what an example made."""
    same = ("id",) if "id" in example else ("text", "url")
    return all(example.get(field) == there.get(field) for field in same)


def _done(answer: httpx.Response) -> Any:
    assert answer.is_success, answer.text
    return answer.json()
