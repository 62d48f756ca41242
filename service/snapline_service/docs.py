"""The API's documentation as a page, from files that come with the service: no request leaves the host."""

import base64
import hashlib
import importlib.metadata
from pathlib import Path

import litestar_offline_docs
from litestar import MediaType, Response, get
from litestar.datastructures.headers import CacheControlHeader
from litestar.static_files import create_static_files_router
from litestar.types import ControllerRouterHandler

_YEAR_S = 31_536_000
# The version stands in the address, so that what a browser has kept never needs asking about.
_ASSETS = f"docs/assets-{importlib.metadata.version('litestar-offline-docs')}"
_START = """
SwaggerUIBundle({
  url: "openapi.json", dom_id: "#page", deepLinking: true, docExpansion: "list",
  persistAuthorization: false, tryItOutEnabled: true, validatorUrl: null,
});
"""
_PAGE = f"""<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width">
<title>Snapline API</title>
<link rel="icon" href="data:,">
<link rel="stylesheet" href="{_ASSETS}/swagger-ui.css">
</head>
<body>
<div id="page"></div>
<script src="{_ASSETS}/swagger-ui-bundle.js"></script>
<script>{_START}</script>
</body>
</html>
"""
_START_HASH = base64.b64encode(hashlib.sha256(_START.encode()).digest()).decode()
# The browser itself refuses to fetch anything from elsewhere, whatever a script would like.
_POLICY = (
    f"default-src 'none'; script-src 'self' 'sha256-{_START_HASH}'; style-src 'self' 'unsafe-inline'; "
    "img-src 'self' data:; font-src 'self'; connect-src 'self'; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'"
)


@get("/docs", include_in_schema=False, sync_to_thread=False)
def docs() -> Response[str]:
    """Show the API's documentation."""
    headers = {"content-security-policy": _POLICY, "cache-control": "no-cache"}
    return Response(_PAGE, media_type=MediaType.HTML, headers=headers)


HANDLERS: list[ControllerRouterHandler] = [
    docs,
    create_static_files_router(
        path=f"/{_ASSETS}",
        directories=[Path(litestar_offline_docs.__file__).parent / "static"],
        cache_control=CacheControlHeader(public=True, max_age=_YEAR_S, immutable=True),
        name="docs-assets",
    ),
]
