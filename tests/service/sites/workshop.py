"""A group with its own sites in the running service, and what a site, a bay and an asset look like."""

from typing import Any

import httpx

Json = dict[str, Any]
PATCH = {"content-type": "application/merge-patch+json"}

SITE: Json = {
    "id": "elm-yard",
    "name": "Elm Yard (invented)",
    "time_zone": "Europe/Berlin",
    "latitude_deg": 52.1,
    "longitude_deg": 11.6,
}
BAY: Json = {
    "id": "one",
    "name": "Bay one",
    "surface": "floor",
    "ring": [[0, 0], [12000, 0], [12000, 7000], [0, 7000]],
    "headings_deg": [0, 180],
    "obstacles": [{"name": "post", "polygon": [[6000, 3000], [6300, 3000], [6300, 3300], [6000, 3300]]}],
    "doors": [{"name": "door", "start": [0, 5000], "end": [0, 1500]}],
    "ceiling_mm": 4000,
    "light_min_lux": 300,
    "light_max_lux": 800,
    "floor": {
        "surveyed_on": "2025-04-07",
        "u_z_mm": 0.5,
        "points": [
            {"x_mm": 1000, "y_mm": 1000, "z_mm": 0},
            {"x_mm": 11000, "y_mm": 1000, "z_mm": 2},
            {"x_mm": 6000, "y_mm": 6000, "z_mm": 1},
        ],
    },
}
ASSET: Json = {
    "id": "board-1",
    "site": "elm-yard",
    "fixture": "board",
    "serial": "EY-001",
    "condition": "in_service",
    "checked_until": "2030-06-30",
}


class Workshop:
    """One group's view of the service."""

    def __init__(self, http: httpx.Client, group_id: str) -> None:
        self.http = http
        self.group_id = group_id

    def add(self, path: str, body: Json, **changes: Any) -> httpx.Response:
        """Create something and insist that it worked."""
        answer = self.http.post(path, json={**body, **changes})
        assert answer.status_code == 201, answer.text
        return answer

    def etag(self, path: str) -> str:
        return self.http.get(path).raise_for_status().headers["etag"]

    def patch(self, path: str, patch: Any, etag: str | None = None, **headers: str) -> httpx.Response:
        """Send a merge patch under an ETag, by default the present one."""
        given = {**PATCH, "if-match": etag or self.etag(path), **headers}
        return self.http.patch(path, json=patch, headers=given)

    def delete(self, path: str, etag: str = "*") -> httpx.Response:
        return self.http.delete(path, headers={"if-match": etag})


def faults(answer: httpx.Response) -> dict[str, str]:
    """Return what a refusal says is wrong, by pointer."""
    assert answer.status_code == 422, answer.text
    return {fault["pointer"]: fault["detail"] for fault in answer.json()["errors"]}
