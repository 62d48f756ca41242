"""Names every change between two OpenAPI documents that can break a program written to the older one.

What is sent must stay allowed; what is answered must stay within what was described, where an answer may gain
fields, and refusals may gain statuses.
"""

from collections.abc import Iterator
from typing import Any

from contract.breaking_schemas import Comparison

Part = dict[str, Any]


def breaking_changes(old: Part, new: Part) -> list[str]:
    """Return a sentence for every breaking change, in order."""
    return list(dict.fromkeys([*_whole(old, new), *_paths(old, new)]))


def _whole(old: Part, new: Part) -> Iterator[str]:
    urls = {server["url"] for server in new.get("servers", [])}
    for server in old.get("servers", []):
        if server["url"] not in urls:
            yield f"The server '{server['url']}' is no longer there."
    before, after = (d.get("components", {}).get("securitySchemes", {}) for d in (old, new))
    for name, scheme in before.items():
        if name not in after:
            yield f"The security scheme '{name}' is no longer there."
        elif any(after[name].get(key) != scheme.get(key) for key in ("type", "scheme", "in", "name")):
            yield f"The security scheme '{name}' works in another way."


def _paths(old: Part, new: Part) -> Iterator[str]:
    for path, methods in old["paths"].items():
        if path not in new["paths"]:
            yield f"The path {path} is no longer there."
            continue
        for method, operation in methods.items():
            called = f"{method.upper()} {path}"
            if method in new["paths"][path]:
                sides = _Sides(called, old, new)
                yield from sides.operation(operation, new["paths"][path][method])
            else:
                yield f"{called} is no longer there."


class _Sides:
    """The older and the newer description of one operation."""

    def __init__(self, called: str, old: Part, new: Part) -> None:
        self._called = called
        self._old, self._new = old, new

    def operation(self, old: Part, new: Part) -> Iterator[str]:
        if old["operationId"] != new["operationId"]:
            yield f"{self._called} is now called {new['operationId']} instead of {old['operationId']}."
        before, after = (_security(o, d) for o, d in ((old, self._old), (new, self._new)))
        if any(not any(way <= had for way in after) for had in before):
            yield f"{self._called} needs another key or scope."
        yield from self._parameters(old, new)
        yield from self._body(old, new)
        yield from self._answers(old, new)

    def _parameters(self, old: Part, new: Part) -> Iterator[str]:
        before, after = _parameters(old, self._old), _parameters(new, self._new)
        for key, parameter in before.items():
            called = f"the {key[0]} parameter '{key[1]}'"
            if key not in after:
                yield f"{self._called} no longer takes {called}."
                continue
            if after[key].get("required") and not parameter.get("required"):
                yield f"{self._called} now needs {called}."
            if any(after[key].get(word) != parameter.get(word) for word in ("style", "explode")):
                yield f"{self._called} reads {called} in another way."
            yield from self._sent(parameter["schema"], after[key]["schema"], called)
        for key, parameter in after.items():
            if key not in before and parameter.get("required"):
                yield f"{self._called} now needs the new {key[0]} parameter '{key[1]}'."

    def _body(self, old: Part, new: Part) -> Iterator[str]:
        before, after = (
            _resolved(o.get("requestBody", {}), d) for o, d in ((old, self._old), (new, self._new))
        )
        if after.get("required") and not before.get("required"):
            yield f"{self._called} now needs a body."
        if before and not after:
            yield f"{self._called} no longer takes a body."
            return
        for media, content in before.get("content", {}).items():
            if media not in after["content"]:
                yield f"{self._called} no longer takes a body as {media}."
            else:
                yield from self._sent(content["schema"], after["content"][media]["schema"], "the body")

    def _answers(self, old: Part, new: Part) -> Iterator[str]:
        for status, answer in old["responses"].items():
            if status not in new["responses"]:
                yield f"{self._called} no longer answers {status}."
                continue
            before, after = _resolved(answer, self._old), _resolved(new["responses"][status], self._new)
            yield from self._headers(before, after, f"answer {status}")
            for media, content in before.get("content", {}).items():
                if media not in after.get("content", {}):
                    yield f"{self._called} no longer gives its answer {status} as {media}."
                else:
                    schema = after["content"][media]["schema"]
                    yield from self._answered(content["schema"], schema, f"the answer {status}")
        for status in new["responses"]:
            if status < "4" and status not in old["responses"]:
                yield f"{self._called} may now answer {status}."

    def _headers(self, old: Part, new: Part, answer: str) -> Iterator[str]:
        for name, reference in old.get("headers", {}).items():
            if name not in new.get("headers", {}):
                yield f"{self._called} no longer has the header {name} in its {answer}."
                continue
            before, after = _resolved(reference, self._old), _resolved(new["headers"][name], self._new)
            if before.get("required") and not after.get("required"):
                yield f"{self._called} may leave out the header {name} in its {answer}."
            yield from self._answered(before["schema"], after["schema"], f"the header {name} of the {answer}")

    def _sent(self, old: Part, new: Part, where: str) -> Iterator[str]:
        for loss in Comparison((self._old, self._new), answered=False).losses(old, new):
            yield f"{self._called}: {where}{loss.at and f' at {loss.at}'} {loss.sent}."

    def _answered(self, old: Part, new: Part, where: str) -> Iterator[str]:
        for loss in Comparison((self._new, self._old), answered=True).losses(new, old):
            yield f"{self._called}: {where}{loss.at and f' at {loss.at}'} {loss.answered}."


def _resolved(part: Part, document: Part) -> Part:
    while "$ref" in part:
        found: Any = document
        for step in part["$ref"].removeprefix("#/").split("/"):
            found = found[step]
        part = found
    return part


def _parameters(operation: Part, document: Part) -> dict[tuple[str, str], Part]:
    found = [_resolved(parameter, document) for parameter in operation.get("parameters", [])]
    return {(parameter["in"], parameter["name"]): parameter for parameter in found}


def _security(operation: Part, document: Part) -> list[set[tuple[str, str]]]:
    """Return what each way to be allowed asks for; without any, there is the way that asks for nothing."""
    ways = operation.get("security", document.get("security", [])) or [{}]
    return [{(name, scope) for name, scopes in way.items() for scope in ("", *scopes)} for way in ways]
