"""The geometry calculators over HTTP: pure functions of the request."""
