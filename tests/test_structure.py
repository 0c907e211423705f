"""Rules of the tree that import-linter cannot say: what a kind of file may import, wherever its domain has split it."""

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
FILES = sorted((ROOT / "app").rglob("*.py"))
RULES = {
    "routes.py": {"sqlmodel", "sqlalchemy"},
    "actions.py": {"fastapi", "starlette"},
    "queries.py": {"fastapi", "starlette"},
    "forms.py": {"sqlmodel", "sqlalchemy"},
}


def imports(file: Path) -> set[str]:
    found: set[str] = set()
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module)
    return found


@pytest.mark.parametrize("ending", sorted(RULES))
def test_each_kind_of_file_keeps_to_its_own(ending: str) -> None:
    wrong = {}
    for file in FILES:
        if file.name.endswith(ending) and "platform" not in file.parts:
            roots = {name.split(".")[0] for name in imports(file)}
            if roots & RULES[ending]:
                wrong[str(file.relative_to(ROOT))] = sorted(roots & RULES[ending])
    assert wrong == {}


def test_queries_change_nothing_and_models_hold_no_use_case() -> None:
    wrong = []
    for file in FILES:
        names = imports(file)
        if file.name.endswith("queries.py") and any(name.endswith("actions") for name in names):
            wrong.append(f"{file.name} imports an action")
        if file.name == "models.py" and any(name.endswith(("forms", "actions", "queries", "routes")) for name in names):
            wrong.append(f"{file} imports a use case")
        if file.name == "models.py" and "__future__" in names:
            wrong.append(f"{file} postpones annotations, which breaks relationships")
    assert wrong == []


def test_actions_never_commit() -> None:
    for file in FILES:
        if file.name.endswith("actions.py"):
            assert ".commit(" not in file.read_text(encoding="utf-8"), file


def test_templates_carry_no_inline_style_or_script() -> None:
    for file in sorted((ROOT / "templates").rglob("*.html")):
        text = re.sub(r"\{#.*?#\}", "", file.read_text(encoding="utf-8"), flags=re.DOTALL)
        assert " style=" not in text, file
        assert "<style" not in text, file
        assert " onclick" not in text, file
        assert "hx-on" not in text, file
        assert "<script>" not in text, file


def test_no_bound_stands_where_it_would_meet_a_blank() -> None:
    """`Annotated[OptionalCount, Field(ge=1)]` raises on a blank field: the bound belongs inside the union."""
    for file in FILES:
        text = file.read_text(encoding="utf-8")
        assert not re.search(r"Annotated\[Optional(Count|Number|Day),\s*Field", text), file


def test_every_action_is_named_domain_noun_verbed_and_once() -> None:
    """The trail is read by these names years later: the domain is the package it stands in, and no two share a name."""
    named: dict[str, str] = {}
    for file in FILES:
        for name in re.findall(r'^@audited\("([^"]+)"\)', file.read_text(encoding="utf-8"), re.MULTILINE):
            assert re.fullmatch(r"[a-z]+\.[a-z_]+\.[a-z_]+", name), name
            assert name.split(".")[0] == file.relative_to(ROOT / "app").parts[0], f"{name} in {file}"
            assert name not in named, f"{name} stands in {file} and in {named[name]}"
            named[name] = str(file)
    assert len(named) > 40
