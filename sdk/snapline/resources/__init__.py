"""The API's nouns. Each is loaded, with its wire types, when a client is first asked for it."""

from importlib import import_module
from types import ModuleType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from snapline.resources import (
        assets,
        changes,
        drafts,
        fixtures,
        geometry,
        keys,
        notes,
        revisions,
        setups,
        sites,
        spreadsheets,
        vehicles,
        visits,
        webhooks,
    )

__all__ = [
    "assets",
    "changes",
    "drafts",
    "fixtures",
    "geometry",
    "keys",
    "notes",
    "revisions",
    "setups",
    "sites",
    "spreadsheets",
    "vehicles",
    "visits",
    "webhooks",
]


def __getattr__(noun: str) -> ModuleType:
    if noun not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {noun!r}")
    return import_module(f"{__name__}.{noun}")
