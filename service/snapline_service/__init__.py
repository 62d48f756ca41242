"""The Snapline service."""
