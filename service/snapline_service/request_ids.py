"""What a request is called in headers, logs and problems."""

import os
import re
from collections.abc import Mapping
from itertools import count

_GIVEN = re.compile(rb"[A-Za-z0-9_.\-]{1,100}")


class RequestIds:
    """Names requests: as the caller does, or as no other process does.

    Ours are random once and then counted, which is cheaper than random each time.
    """

    def __init__(self) -> None:
        self._process = os.urandom(10).hex().encode()
        self._numbers = count(1)

    def of(self, headers: Mapping[bytes, bytes]) -> bytes:
        """Return the id of a request."""
        given = headers.get(b"x-request-id")
        if given and _GIVEN.fullmatch(given):
            return given
        return b"%s%08x" % (self._process, next(self._numbers))
