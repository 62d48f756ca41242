"""The check of an API key that all peers make: the service's keyed hash, without its database."""

import hmac
import os

_SECRET = b"a secret for benchmarks alone"
_KNOWN = {hmac.digest(_SECRET, os.environ["BENCHMARK_KEY"].encode(), "sha256")}


def is_known(authorization: str | None) -> bool:
    """Whether an Authorization header carries the key."""
    token = (authorization or "").removeprefix("Bearer ")
    return hmac.digest(_SECRET, token.encode(), "sha256") in _KNOWN
