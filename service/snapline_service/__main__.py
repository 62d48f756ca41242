"""Run the ``snapline`` command as a module."""

from snapline_service.cli import main

main()
