"""Settings: each layer is stronger than the one before, and every fault is told at once."""

from __future__ import annotations

from pathlib import Path

import pytest

from voicereport.errors import SettingsError
from voicereport.settings import FILE_NAME, load_settings


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("VOICEREPORT_HOME", str(tmp_path / "home"))
    return tmp_path


def test_without_anything_the_shipped_settings_hold(folder: Path) -> None:
    settings = load_settings(environment={})
    assert (settings.units, settings.profile, settings.paper) == ("metric", "US", "a4")
    assert settings.out == Path("reports")


def test_a_file_is_weaker_than_the_environment_and_that_than_options(folder: Path) -> None:
    (folder / FILE_NAME).write_text('profile = "UK"\nunits = "us"\nthreads = 3\n[letterhead]\ncompany = "A"\n')
    environment = {"VOICEREPORT_UNITS": "metric", "VOICEREPORT_THREADS": "2", "VOICEREPORT_LETTERHEAD_COMPANY": "B"}
    settings = load_settings(environment=environment, options={"threads": 1, "units": None})
    assert (settings.profile, settings.units, settings.threads) == ("UK", "metric", 1)
    assert settings.letterhead.company == "B"


def test_the_file_here_comes_before_the_one_in_the_users_folder(folder: Path) -> None:
    (folder / "home").mkdir()
    (folder / "home" / FILE_NAME).write_text('paper = "us-letter"\n')
    assert load_settings(environment={}).paper == "us-letter"
    (folder / FILE_NAME).write_text('profile = "UK"\n')
    assert load_settings(environment={}).paper == "a4"


def test_a_named_file_must_be_there(folder: Path) -> None:
    with pytest.raises(SettingsError, match="no such settings file"):
        load_settings(folder / "other.toml", environment={})
    with pytest.raises(SettingsError, match="no such settings file"):
        load_settings(environment={"VOICEREPORT_CONFIG": "other.toml"})


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("trad = 1", "trad: is no setting; did you mean trade?"),
        ("units = 'imperial'", "'imperial' is not one of metric, us"),
        ("profile = 'FR'", "'FR' is not one of US, UK"),
        ("engine = 'loud'", "'loud' is not one of auto, faster-whisper, openai-whisper"),
        ("paper = 'a3'", "'a3' is not one of a4, us-letter"),
        ("threads = -1", "-1 is no number of threads"),
        ("threads = true", "True is no number of threads"),
        ("threads = '2'", "'2' is no number of threads"),
        ("language = 'English'", "'English' is no language"),
        ("trade = ''", "trade: is empty"),
        ("trade = 3", "3 is no text"),
        ("letterhead = 'A'", "letterhead is no table"),
        ("[letterhead]\nfax = '1'", "letterhead.fax: is no setting"),
        ("trade = ", "cannot be read"),
        ("trade = 'a'\ntrade = 'b'", "cannot be read"),
    ],
)
def test_a_fault_in_the_file_is_named(folder: Path, text: str, fault: str) -> None:
    (folder / FILE_NAME).write_text(text)
    with pytest.raises(SettingsError) as caught:
        load_settings(environment={})
    assert fault in str(caught.value)
    assert FILE_NAME in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_file_that_is_no_text_is_named(folder: Path) -> None:
    (folder / FILE_NAME).write_bytes(b"\xff\xfe\x00")
    with pytest.raises(SettingsError, match="cannot be read"):
        load_settings(environment={})


def test_all_faults_are_told_at_once(folder: Path) -> None:
    (folder / FILE_NAME).write_text("units = 'x'\n")
    with pytest.raises(SettingsError) as caught:
        load_settings(environment={"VOICEREPORT_PAPR": "a4"}, options={"profile": "XX"})
    told = str(caught.value)
    assert "units: 'x'" in told
    assert "VOICEREPORT_PAPR: is no setting; did you mean VOICEREPORT_PAPER?" in told
    assert "--profile: 'XX'" in told
