"""JSON Merge Patch (RFC 7396)."""

from typing import Any

MEDIA_TYPE = "application/merge-patch+json"


def merged(target: Any, patch: Any) -> Any:
    """Return the target with the patch merged into it, as section 2 of the RFC says.

    A patch has the shape of what it changes: a pointer into the result leads to the same place of the patch,
    if that place was patched.
    """
    if not isinstance(patch, dict):
        return patch
    answer = dict(target) if isinstance(target, dict) else {}
    for name, value in patch.items():
        if value is None:
            answer.pop(name, None)
        else:
            answer[name] = merged(answer.get(name), value)
    return answer
