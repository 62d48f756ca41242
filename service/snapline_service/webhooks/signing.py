"""Secrets of webhooks: derived, never stored, so that the database alone signs nothing."""

import hmac
import secrets

from snapline.webhooks import new_secret, sign
from snapline_service.webhooks.tables import WebhookRow


def new_salt() -> str:
    """Return what makes the next secret another one."""
    return secrets.token_hex(16)


def secret_of(webhook_id: str, salt: str, service_secret: bytes) -> str:
    """Return a webhook's secret, as its receiver knows it."""
    return new_secret(hmac.digest(service_secret, f"webhook {webhook_id} {salt}".encode(), "sha256"))


def secrets_of(row: WebhookRow, service_secret: bytes, at: str) -> tuple[str, ...]:
    """Return the secrets that sign at a time: the present one, and while it is rotated the old one too."""
    salts = [row.salt]
    if row.previous_salt and row.previous_until and row.previous_until > at:
        salts.append(row.previous_salt)
    return tuple(secret_of(row.id, salt, service_secret) for salt in salts)


def headers(signing: tuple[str, ...], event_id: str, timestamp_s: int, body: bytes) -> dict[str, str]:
    """Return the headers of Standard Webhooks 1.0."""
    return {
        "webhook-id": event_id,
        "webhook-timestamp": str(timestamp_s),
        "webhook-signature": " ".join(sign(secret, event_id, timestamp_s, body) for secret in signing),
    }
