"""The compose file is read, and the commands of its services are real ones."""

import re
import tomllib
from pathlib import Path
from typing import Any

import yaml

from app.__main__ import _parser
from app.platform.settings import NAMES, read_settings

ROOT = Path(__file__).resolve().parents[1]


def compose() -> dict[str, Any]:
    loaded = yaml.safe_load((ROOT / "docker-compose.yml").read_text(encoding="utf-8"))
    assert isinstance(loaded, dict)
    return loaded


def test_services_and_what_they_share() -> None:
    services = compose()["services"]
    assert set(services) == {"db", "migrate", "app", "tick"}
    assert services["app"]["volumes"] == services["tick"]["volumes"]
    assert services["app"]["environment"]["EVENSEAM_TICK"] == "off"
    assert "evenseam_owner" in services["migrate"]["environment"]["EVENSEAM_DATABASE_URL"]
    for name in ("app", "tick"):
        assert "evenseam_app" in services[name]["environment"]["EVENSEAM_DATABASE_URL"]


def test_every_command_parses() -> None:
    for name in ("migrate", "app", "tick"):
        program, *arguments = compose()["services"][name]["command"]
        assert program == "evenseam"
        assert _parser().parse_args(arguments).command == arguments[0]
    scripts = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["scripts"]
    assert "evenseam" in scripts


def test_every_setting_is_one_that_is_read() -> None:
    for name in ("migrate", "app", "tick"):
        environment = compose()["services"][name]["environment"]
        assert {key.removeprefix("EVENSEAM_") for key in environment} <= set(NAMES)
        filled = {
            key: re.sub(r"\$\{[A-Z_]+(:-([^}]*)|:\?[^}]*)?\}", lambda m: m[2] or "", str(value))
            for key, value in environment.items()
        }
        settings = read_settings(filled)
        assert settings.database_url.startswith("postgresql+psycopg://")
        assert settings.key.parent != settings.data


def test_no_password_stands_in_the_file() -> None:
    text = (ROOT / "docker-compose.yml").read_text(encoding="utf-8")
    assert re.findall(r"PASSWORD: (?!\$\{)", text) == []
