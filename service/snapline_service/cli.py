"""The ``snapline`` command."""
