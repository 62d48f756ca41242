"""Settings from the environment: each is used as it was meant, or refused by its name."""

from pathlib import Path

import pytest

from service.cli.commanded import SECRET
from snapline_service import settings
from snapline_service.errors import InvalidValue

DELIVER, PRIVATE = "SNAPLINE_WEBHOOKS_DELIVER", "SNAPLINE_WEBHOOKS_ALLOW_PRIVATE"


@pytest.fixture(autouse=True)
def _elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SNAPLINE_DATA", str(tmp_path / "revisions"))


@pytest.mark.parametrize("yes", ["1", "true", "yes", "on", "YES", "True", "On"])
@pytest.mark.parametrize("no", ["0", "false", "no", "off", "NO", "False", "Off"])
def test_yes_and_no_are_said_in_any_usual_way(yes: str, no: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(DELIVER, yes)
    monkeypatch.setenv(PRIVATE, no)
    chosen = settings.load()
    assert (chosen.webhooks_deliver, chosen.webhooks_allow_private) == (True, False)
    monkeypatch.setenv(DELIVER, no)
    monkeypatch.setenv(PRIVATE, yes)
    chosen = settings.load()
    assert (chosen.webhooks_deliver, chosen.webhooks_allow_private) == (False, True)


REFUSED = [
    (DELIVER, "ja", "yes"),
    (PRIVATE, "2", "off"),
    ("SNAPLINE_REQUESTS_PER_MINUTE", "abc", "whole number"),
    ("SNAPLINE_REQUESTS_PER_MINUTE", "0", "whole number"),
    ("SNAPLINE_REQUESTS_PER_MINUTE", "1.5", "whole number"),
    ("SNAPLINE_REVISION_FILES_KEPT", "-1", "whole number"),
    ("SNAPLINE_ANSWER_WITHIN_S", "abc", "seconds"),
    ("SNAPLINE_ANSWER_WITHIN_S", "nan", "seconds"),
    ("SNAPLINE_BODY_WITHIN_S", "1e999", "seconds"),
    ("SNAPLINE_BODY_WITHIN_S", "-3", "seconds"),
    ("SNAPLINE_LOG_LEVEL", "loud", "debug, info"),
]


@pytest.mark.parametrize(("name", "value", "allowed"), REFUSED)
def test_what_cannot_be_meant_is_refused_by_its_name(
    tmp_path: Path, name: str, value: str, allowed: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(name, value)
    with pytest.raises(InvalidValue, match=f"{name} cannot be '{value}'") as refused:
        settings.load()
    assert allowed in refused.value.mend
    assert not (tmp_path / "revisions").exists(), "no secret is made for what does not start"


def test_another_process_loads_the_same_settings(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SNAPLINE_SECRET", SECRET)
    monkeypatch.setenv(DELIVER, "off")
    monkeypatch.setenv("SNAPLINE_LOG_LEVEL", "DEBUG")
    first = settings.load()
    for name, value in settings.environment(first).items():
        monkeypatch.setenv(name, value)
    assert settings.load() == first
