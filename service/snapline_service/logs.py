"""Structured logs: one JSON object to a line, without keys, bodies, addresses as typed, or VINs.

A request is logged by its route's template, never by the path as sent: somebody may have put a VIN there.
"""

import logging
from typing import Any

from snapline_service.tracing import Trace

access = logging.getLogger("snapline.access")


def config(level: str) -> dict[str, Any]:
    """Return the logging configuration of a process."""
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "formatters": {
            "json": {
                "()": "pythonjsonlogger.msgspec.MsgspecFormatter",
                "fmt": "%(asctime)s %(levelname)s %(name)s %(message)s",
                "rename_fields": {"asctime": "time", "levelname": "level", "name": "logger"},
            }
        },
        "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": "json"}},
        "root": {"level": "WARNING", "handlers": ["stderr"]},
        "loggers": {
            "snapline": {"level": level.upper()},
            "_granian": {"level": "WARNING"},
        },
    }


def request(
    level: int,
    *,
    request_id: str,
    method: str,
    route: str,
    status: int,
    duration_s: float,
    key_id: str | None,
    trace: Trace | None,
) -> None:
    """Log one request."""
    fields: dict[str, Any] = {
        "request_id": request_id,
        "method": method,
        "route": route,
        "status": status,
        "duration_ms": round(duration_s * 1000, 3),
    }
    if key_id:
        fields["key_id"] = key_id
    if trace:
        fields |= {"trace_id": trace.trace_id, "span_id": trace.span_id, "parent_id": trace.parent_id}
    access.log(level, "request", extra=fields)
