"""What the OpenAPI document says everywhere alike: its introduction, headers, refusals and links."""

from collections import defaultdict
from typing import Any

import msgspec

from snapline.wire.problems import Problem, ProblemItem
from snapline_service import examples
from snapline_service.problems import KINDS, MEDIA_TYPE, type_of

INTRODUCTION = """\
What must be calibrated on this car after this repair, with which fixtures, exactly where on the floor. The
vehicle maker's current procedure governs: an answer is a working aid and not a release of a vehicle.

**Units and signs.** Lengths are in millimetres and angles in degrees, as the ends of the names say (`_mm`,
`_deg`). Axes by ISO 8855: x forward, y left, z up from the plane of the tyre contacts, origin below the
midpoint of the rear axle; yaw positive counter-clockwise from above, pitch positive nose down, roll positive
left side up.

**Requests** are taken exactly as described: an unknown field, a field that stands twice or a number in quotes
is a problem that names the place and how to mend it, all of them at once. As in JSON Schema, 24.0 is a whole
number.

**Answers** may gain fields, and lists of words marked `x-extensible-enum` may gain words: pass over what you
do not know. A field that is not required may be left out: it is then null, empty or as its description says.

**Problems** follow RFC 9457. `code` is stable, `errors` point into the request (RFC 6901), and the address in
`type` explains the kind.

**Look-ups** have a strong `ETag`: send it back as `If-None-Match`, and an unchanged answer is a 304. HEAD
answers as GET does, without the body. Other methods than those described are refused with 405 and `Allow`.

**Changes** of what is stored need `If-Match` with the ETag that was read (428 without, 412 when somebody else
was faster). A PATCH is a merge patch (RFC 7396): null removes, and what is left out stays as it is.

**Pages** follow one another by `page_token`, which belongs to the filters that it was made with."""

TAGS = {
    "vehicles": "Which car is it, what is fitted to it, and what does each of its systems need?",
    "fixtures": "What stands on the floor, what it can do, and which vehicles it serves.",
    "setups": "Where every fixture of a procedure stands for one vehicle, and how surely.",
    "geometry": "Calculators: functions of the request alone, which need no catalogue.",
    "sites": "Workshops and their bays: outline, obstacles, doors, ceiling, light and floor.",
    "assets": "Physical fixtures: where each is, in which condition, and until when its check holds.",
    "visits": "What a repair calls for, where it can be done, with what, in which order; and kept plans.",
    "drafts": "Changes of the catalogue: prepared, merged, reviewed by a second person, published.",
    "revisions": "Published states of the catalogue, which never change, and their offline copies.",
    "notes": "What a group remarks on vehicles and procedures for itself, beside the requirement.",
    "spreadsheets": "The flat parts of the catalogue as spreadsheets, out and in again.",
    "changes": "What happens in a group, to follow from anywhere; and who did what, for ever.",
    "webhooks": "Signed events, sent to whoever wants to know at once.",
    "keys": "Who may use the service for your group, and for what.",
    "operation": "Is the service there, and what do its problems mean?",
}


def _header(description: str, schema: dict[str, Any], *, always: bool = True) -> dict[str, Any]:
    return {"description": description, "required": always, "schema": schema}


_TEXT = {"type": "string"}
_COUNT = {"type": "integer", "minimum": 0}
HEADERS = {
    "Accept-Ranges": _header("Parts of the file can be asked for.", _TEXT),
    "Content-Range": _header("Which bytes of how many these are (RFC 9110, section 14.4).", _TEXT),
    "Repr-Digest": _header("SHA-256 of the whole file (RFC 9530).", _TEXT),
    "Accept": _header("The media type that a body must have here.", _TEXT),
    "Cache-Control": _header("A cache may keep the answer but asks before it uses it.", _TEXT),
    "Catalogue-Revision": _header("The revision answered from.", {"type": "integer", "minimum": 1}),
    "ETag": _header("Strong: it names these very bytes.", {"type": "string", "pattern": '^"[^"]+"$'}),
    "Idempotency-Replayed": _header("True where an earlier answer is given again.", _TEXT, always=False),
    "RateLimit": _header("What is left: `r` requests within `t` seconds.", _TEXT, always=False),
    "RateLimit-Policy": _header("What is allowed: `q` requests within `w` seconds.", _TEXT, always=False),
    "Retry-After": _header("Seconds to wait before trying again.", _COUNT, always=False),
    "Vary": _header("The request headers that the answer depends on.", _TEXT),
    "WWW-Authenticate": _header("How to sign in: Bearer.", _TEXT),
    "X-Request-Id": _header("Names this exchange in logs.", {"type": "string", "minLength": 1}),
}
PARAMETERS = {
    "Idempotency-Key": {
        "name": "Idempotency-Key",
        "in": "header",
        "description": (
            "Your name for this write, best a UUID. Sent again within 24 hours with the same request, it has "
            "no second effect and gives the same answer, without its secrets."
        ),
        "schema": {"type": "string", "minLength": 1, "maxLength": 200},
        "example": '"0191f3c2-6d3a-7c1e-9b57-4d1b8e0a5f10"',
    },
    "validate_only": {
        "name": "validate_only",
        "in": "query",
        "description": "Check everything and change nothing.",
        "schema": {"type": "boolean", "default": False},
        "example": True,
    },
    "If-None-Match": {
        "name": "If-None-Match",
        "in": "header",
        "description": "The ETag of an answer that you have, or several.",
        "schema": _TEXT,
        "example": '"d41d8cd98f00b204e9800998ecf8427e"',
    },
    "If-Match": {
        "name": "If-Match",
        "in": "header",
        "required": True,
        "description": "The ETag of what you change, as you read it; or * for whatever is there.",
        "schema": _TEXT,
        "example": '"d41d8cd98f00b204e9800998ecf8427e"',
    },
    "If-Match-to-replace": {
        "name": "If-Match",
        "in": "header",
        "description": "To replace: the ETag of what is there, as you read it; or * for whatever is there.",
        "schema": _TEXT,
        "example": '"d41d8cd98f00b204e9800998ecf8427e"',
    },
    "If-None-Match-to-add": {
        "name": "If-None-Match",
        "in": "header",
        "description": "To add what must not be there yet: *",
        "schema": {"type": "string", "enum": ["*"]},
        "example": "*",
    },
    "Range": {
        "name": "Range",
        "in": "header",
        "description": "The part that is wanted, such as bytes=1048576-.",
        "schema": _TEXT,
        "example": "bytes=0-1048575",
    },
    "If-Range": {
        "name": "If-Range",
        "in": "header",
        "description": "The ETag that the part must belong to; otherwise the whole file comes.",
        "schema": _TEXT,
        "example": '"d41d8cd98f00b204e9800998ecf8427e"',
    },
    "X-Request-Id": {
        "name": "X-Request-Id",
        "in": "header",
        "description": (
            "Your name for this exchange: 1 to 100 letters, digits, '.', '_' or '-'. "
            "Without one, or with another, the service makes its own."
        ),
        "schema": _TEXT,
        "example": "order-1044-camera",
    },
}
SECURITY_SCHEMES = {
    "key": {
        "type": "http",
        "scheme": "bearer",
        "description": (
            "A key of your group, issued with `snapline keys issue`. Each operation names the scope it needs."
        ),
    }
}

# By status: the component's name, what it says, and the headers beside X-Request-Id.
_REFUSALS = {
    "400": ("Unreadable", "The body is not JSON.", ()),
    "401": ("NotSignedIn", "There is no valid key.", ("WWW-Authenticate",)),
    "403": ("NotAllowed", "The key lacks the scope that the operation needs.", ()),
    "404": ("NotFound", "What the address names is not there, or no catalogue is published.", ()),
    "406": ("NotAcceptable", "None of the media types in Accept can be made.", ()),
    "408": ("TooSlow", "The body came too slowly.", ()),
    "409": ("InTheWay", "Something stands in the way: a name is taken, or a state has moved on.", ()),
    "412": ("Changed", "What If-Match names is not what is there now.", ()),
    "413": ("TooLarge", "The body is too large.", ()),
    "415": ("NotJson", "The body is not sent as JSON.", ("Accept",)),
    "416": ("NoSuchPart", "The part begins behind the end of the file.", ("Content-Range",)),
    "422": ("NotUsable", "The request is not as described, or cannot be worked out.", ()),
    "428": ("MatchNeeded", "A change of something stored needs If-Match.", ()),
    "429": ("TooMany", "Too many requests.", ("RateLimit", "RateLimit-Policy", "Retry-After")),
    "500": ("Failed", "The service failed; its log has the reason under the request id.", ()),
    "503": ("TookTooLong", "The answer took too long, or the service is overloaded.", ("Retry-After",)),
}


def responses() -> dict[str, Any]:
    """Return a component for every refusal, with an example of each kind of problem."""
    shown: defaultdict[str, dict[str, Any]] = defaultdict(dict)
    for code, kind in sorted(KINDS.items()):
        shown[str(kind.status)][code] = {"summary": kind.title, "value": problem_example(code)}
    answer: dict[str, Any] = {}
    for status, (name, text, extra) in _REFUSALS.items():
        content: dict[str, Any] = {"schema": {"$ref": "#/components/schemas/Problem"}}
        if status in shown:
            content["examples"] = shown[status]
        answer[name] = {
            "description": text,
            "headers": headers("X-Request-Id", *extra),
            "content": {MEDIA_TYPE: content},
        }
    return answer


def problem_example(code: str) -> Any:
    """Return an example of a kind of problem, as it travels."""
    kind = KINDS[code]
    detail, mend, at, address = examples.PROBLEMS.get(code, (kind.meaning, "", "", "/v1/setups"))
    told = f"{detail} {mend}".strip()
    problem = Problem(
        type=type_of(code),
        title=kind.title,
        status=kind.status,
        detail=told,
        code=code,
        request_id="order-1044-camera",
        retryable=kind.status in (408, 429) or kind.status >= 500,
        retry_after_s=12 if code == "RATE_LIMITED" else None,
        instance=address,
        errors=(ProblemItem(pointer=at, code=code, detail=told, mend=mend),),
    )
    return msgspec.to_builtins(problem)


def refusals(*statuses: str) -> dict[str, Any]:
    """Return references to the components of refusals."""
    return {status: {"$ref": f"#/components/responses/{_REFUSALS[status][0]}"} for status in statuses}


def headers(*names: str) -> dict[str, Any]:
    """Return references to headers."""
    return {name: {"$ref": f"#/components/headers/{name}"} for name in names}


def parameters(*names: str) -> list[dict[str, Any]]:
    """Return references to header parameters."""
    return [{"$ref": f"#/components/parameters/{name}"} for name in names]


_FIRST = "$response.body#/items/0"
# What an answer leads to, by operation id: operation, its parameters, and what the link is for.
_LINKS: dict[str, list[tuple[str, dict[str, str], str]]] = {
    "list_vehicles": [
        ("get_vehicle", {"vehicle_id": f"{_FIRST}/id"}, "The first vehicle of the page."),
        (
            "get_vehicle_system",
            {"vehicle_id": f"{_FIRST}/id", "system_id": f"{_FIRST}/systems/0/id"},
            "Its first system.",
        ),
    ],
    "get_vehicle": [
        (
            "get_vehicle_system",
            {"vehicle_id": "$response.body#/id", "system_id": "$response.body#/systems/0/id"},
            "Its first system.",
        )
    ],
    "identify_vehicle": [
        (
            "get_vehicle",
            {"vehicle_id": "$response.body#/candidates/0/vehicle/id"},
            "The first candidate.",
        )
    ],
    "list_fixtures": [
        ("get_fixture", {"fixture_id": f"{_FIRST}/id"}, "The first fixture of the page."),
        ("list_fixture_vehicles", {"fixture_id": f"{_FIRST}/id"}, "The vehicles that it serves."),
    ],
    "list_fixture_vehicles": [
        ("get_vehicle", {"vehicle_id": f"{_FIRST}/vehicle_id"}, "The first vehicle of the page."),
        (
            "get_vehicle_system",
            {"vehicle_id": f"{_FIRST}/vehicle_id", "system_id": f"{_FIRST}/uses/0/system_id"},
            "The system that it serves there.",
        ),
    ],
    "list_sites": [
        ("get_site", {"site_id": f"{_FIRST}/id"}, "The first site of the page."),
        ("list_bays", {"site_id": f"{_FIRST}/id"}, "Its bays."),
    ],
    "get_site": [("list_bays", {"site_id": "$response.body#/id"}, "Its bays.")],
    "create_site": [
        ("get_site", {"site_id": "$response.body#/id"}, "Read it."),
        (
            "delete_site",
            {"site_id": "$response.body#/id", "header.If-Match": "$response.header.ETag"},
            "Take it back.",
        ),
    ],
    "list_bays": [
        (
            "get_bay",
            {"site_id": "$request.path.site_id", "bay_id": f"{_FIRST}/id"},
            "The first bay of the site.",
        )
    ],
    "create_bay": [
        ("get_bay", {"site_id": "$request.path.site_id", "bay_id": "$response.body#/id"}, "Read it."),
        (
            "delete_bay",
            {
                "site_id": "$request.path.site_id",
                "bay_id": "$response.body#/id",
                "header.If-Match": "$response.header.ETag",
            },
            "Take it back.",
        ),
    ],
    "list_assets": [("get_asset", {"asset_id": f"{_FIRST}/id"}, "The first one of the page.")],
    "get_asset": [
        ("get_site", {"site_id": "$response.body#/site"}, "Where it is."),
        ("get_fixture", {"fixture_id": "$response.body#/fixture"}, "What it is."),
    ],
    "create_asset": [
        ("get_asset", {"asset_id": "$response.body#/id"}, "Read it."),
        (
            "delete_asset",
            {"asset_id": "$response.body#/id", "header.If-Match": "$response.header.ETag"},
            "Take it back.",
        ),
    ],
    "list_visits": [("get_visit", {"visit_id": f"{_FIRST}/id"}, "The first visit of the page.")],
    "keep_visit": [
        ("get_visit", {"visit_id": "$response.body#/id"}, "Read it."),
        ("replan_visit", {"visit_id": "$response.body#/id"}, "Plan it anew."),
        (
            "update_visit",
            {"visit_id": "$response.body#/id", "header.If-Match": "$response.header.ETag"},
            "Change it.",
        ),
    ],
    "issue_key": [("revoke_key", {"key_id": "$response.body#/key/id"}, "Take it back.")],
    "match_fixtures": [
        ("get_fixture", {"fixture_id": f"{_FIRST}/fixture_id"}, "The first fixture that meets the need."),
    ],
}


def links(operation_id: str) -> dict[str, Any]:
    """Return the links of an operation's answer."""
    return {
        to: {"operationId": to, "parameters": parameters, "description": text}
        for to, parameters, text in _LINKS.get(operation_id, ())
    }
