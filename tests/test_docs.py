"""The papers agree with the code."""

import re
from pathlib import Path

from app.__main__ import _parser
from app.platform.settings import NAMES
from app.tables import METADATA

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def commands() -> set[str]:
    actions = [action for action in _parser()._actions if action.choices]
    return set(actions[0].choices or ())


def test_every_setting_stands_in_the_readme() -> None:
    for name in NAMES:
        assert f"EVENSEAM_{name}" in README, name
    assert set(re.findall(r"`EVENSEAM_([A-Z_]+)`", README)) <= set(NAMES)


def test_every_command_stands_in_the_papers() -> None:
    for name in commands():
        assert f"`evenseam {name}" in DEVELOPERS or f"evenseam {name}" in README, name
    assert set(re.findall(r"`evenseam ([a-z]+)", README + DEVELOPERS)) <= commands()


def test_the_readme_has_two_set_up_commands_and_its_picture() -> None:
    blocks = re.findall(r"^    (python3 -m venv .+)$", README, re.MULTILINE)
    assert len(blocks) == 2
    assert blocks[0].endswith("evenseam demo")
    assert blocks[1].endswith("python -m tests")
    for picture in re.findall(r"!\[[^\]]*\]\(([^)]+)\)", README):
        assert (ROOT / picture).exists(), picture


def test_the_map_names_every_package() -> None:
    for folder in sorted((ROOT / "app").iterdir()):
        if folder.is_dir() and (folder / "__init__.py").exists():
            assert f"`{folder.name}/`" in DEVELOPERS, folder.name


def test_every_decision_is_numbered_and_dated() -> None:
    numbers = [int(n) for n in re.findall(r"^### (\d+)\. ", DEVELOPERS, re.MULTILINE)]
    assert numbers == list(range(1, len(numbers) + 1))
    assert len(re.findall(r"^### \d+\. .+ \(\d{4}-\d{2}-\d{2}\)$", DEVELOPERS, re.MULTILINE)) == len(numbers)


def test_every_table_that_the_trail_leaves_out_is_listed() -> None:
    for table in METADATA.tables.values():
        if table.info.get("audit") == "off" and not table.name.startswith("audit_"):
            assert f"`{table.name}`" in DEVELOPERS, table.name


def test_the_top_level_is_as_agreed() -> None:
    seen = {
        path.name for path in ROOT.iterdir() if not path.name.startswith(".") and not path.name.endswith(".egg-info")
    }
    agreed = {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "app",
        "templates",
        "static",
        "migrations",
        "tests",
        "docker-compose.yml",
        "LICENSE",
    }
    assert agreed <= seen
