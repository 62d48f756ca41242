"""All HTTP of the catalogue's drafts and revisions."""

from snapline_service.catalogue import (
    diff_routes,
    document_routes,
    draft_routes,
    review_routes,
    revision_routes,
)

HANDLERS = [
    *draft_routes.HANDLERS,
    *document_routes.HANDLERS,
    *review_routes.HANDLERS,
    *diff_routes.HANDLERS,
    *revision_routes.HANDLERS,
]
