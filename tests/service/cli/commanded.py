"""What the tests of commands share: how one is run, and how it tells what went wrong."""

from collections.abc import Callable

from click.testing import Result

Run = Callable[..., Result]
SECRET = "a secret for tests alone"


def assert_told(result: Result, *words: str, status: int = 1) -> None:
    """The command failed, said why in words, and showed no traceback."""
    assert result.exit_code == status, result.output
    assert isinstance(result.exception, SystemExit), result.exception
    assert "Traceback" not in result.output
    for word in words:
        assert word in result.output
