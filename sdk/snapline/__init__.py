"""Typed client for a Snapline service.

>>> from snapline import Snapline
>>> with Snapline() as client:                              # SNAPLINE_URL and SNAPLINE_KEY
...     for vehicle in client.vehicles.list(make="Veldt"):
...         print(vehicle.id)
"""

from snapline.cache import Cache
from snapline.calls import Call, Response
from snapline.client import AsyncSnapline, Snapline
from snapline.errors import (
    BadRequest,
    ConfigurationError,
    Conflict,
    ConnectionFailed,
    DatumsDoNotFixAPoint,
    Forbidden,
    MissingDimension,
    NotFound,
    ProblemError,
    RateLimited,
    ResponseUnreadable,
    ServiceFailed,
    SnaplineError,
    TimedOut,
    Unauthorized,
    UnusableValue,
)
from snapline.paging import AsyncListing, AsyncPage, Page
from snapline.retry import Attempt, Pace
from snapline.stored import Stored
from snapline.transport import AsyncTransport, Headers, Reply, Request, Timeout, Transport
from snapline.version import __version__

__all__ = [
    "AsyncListing",
    "AsyncPage",
    "AsyncSnapline",
    "AsyncTransport",
    "Attempt",
    "BadRequest",
    "Cache",
    "Call",
    "ConfigurationError",
    "Conflict",
    "ConnectionFailed",
    "DatumsDoNotFixAPoint",
    "Forbidden",
    "Headers",
    "MissingDimension",
    "NotFound",
    "Pace",
    "Page",
    "ProblemError",
    "RateLimited",
    "Reply",
    "Request",
    "Response",
    "ResponseUnreadable",
    "ServiceFailed",
    "Snapline",
    "SnaplineError",
    "Stored",
    "TimedOut",
    "Timeout",
    "Transport",
    "Unauthorized",
    "UnusableValue",
    "__version__",
]
