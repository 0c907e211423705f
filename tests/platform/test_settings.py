from pathlib import Path

import pytest

from app.platform.settings import BadSetting, read_settings


def test_defaults_are_embedded(tmp_path: Path) -> None:
    settings = read_settings({}, data=tmp_path / "x")
    assert settings.database_url == f"sqlite:///{tmp_path / 'x' / 'evenseam.sqlite3'}"
    assert settings.address == "http://127.0.0.1:8620"
    assert settings.key == tmp_path / "x.key"
    assert settings.tick


def test_a_setting_may_stand_in_a_file(tmp_path: Path) -> None:
    file = tmp_path / "secret"
    file.write_text("postgresql://a:b@db/evenseam\n")
    assert (
        read_settings({"EVENSEAM_DATABASE_URL_FILE": str(file)}).database_url == "postgresql+psycopg://a:b@db/evenseam"
    )


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("PORT", "many", "is not a port"),
        ("PORT", "70000", "is not a port"),
        ("TICK", "maybe", "give on or off"),
        ("DATABASE_URL", "mysql://x", "give sqlite"),
        ("MAIL_URL", "http://x", "give smtp"),
        ("DATABASE_URL_FILE", "/nowhere/at/all", "cannot read"),
    ],
)
def test_a_bad_setting_says_what_to_do(name: str, value: str, words: str) -> None:
    with pytest.raises(BadSetting, match=words):
        read_settings({f"EVENSEAM_{name}": value})
