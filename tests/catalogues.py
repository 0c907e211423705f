"""`python -m tests.catalogues`: collects every text that clients read and brings the catalogues up to it.

New texts are added without words, texts that nobody shows any more are dropped, nothing is guessed. A contributor then
fills in what is empty; `test_languages` fails until each is.
"""

import ast
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.pofile import read_po, write_po

from app.consents import guest_queries, paper_pdf
from app.consents import texts as consent_texts
from app.intake.answers import texts as question_texts
from app.intake.rule_set import client_texts as rule_texts
from app.intake.visit_list import VISIT_SET
from app.platform.languages import CATALOGUES, LANGUAGES
from app.platform.pages import ROOT
from app.studio.country import CHECK_LOCALLY, PACKS
from app.studio.routes import WAIT

# Templates of which every word is a client's; elsewhere `_` marks them all the same.
FOLDERS = ("templates",)
# Where messages for clients are raised or kept as constants: the functions whose text reaches a page.
RAISED = {"Refused": 1, "DateProblem": 0, "Unreadable": 0, "ValueError": 0, "PhoneProblem": 0}
CLIENT_CODE = (
    "app/intake/answers.py",
    "app/intake/dates.py",
    "app/intake/filling.py",
    "app/intake/guest_routes.py",
    "app/intake/reading.py",
    "app/intake/signing_routes.py",
    "app/intake/submit_actions.py",
    "app/intake/draft_actions.py",
    "app/intake/visit_days.py",
    "app/records/phones.py",
    "app/studio/tablet_routes.py",
    "app/consents/forms.py",
    "app/consents/actions.py",
    "app/consents/drawing.py",
    "app/consents/guest_queries.py",
    "app/consents/text_queries.py",
    "app/platform/forms.py",
    "app/platform/images.py",
)


def from_templates() -> Iterator[tuple[str, ...]]:
    options = {"**.html": {"extensions": "jinja2.ext.i18n", "trimmed": "false"}, "**.txt": {}}
    found = extract_from_dir(
        ROOT / "templates",
        method_map=[("**.html", "jinja2.ext:babel_extract"), ("mail/**.txt", "jinja2.ext:babel_extract")],
        options_map={"**.html": options["**.html"], "mail/**.txt": options["**.html"]},
        keywords={"_": None, "gettext": None, "ngettext": (1, 2)},
    )
    for _file, _line, text, _comments, _context in found:
        yield text if isinstance(text, tuple) else (text,)


def from_code(path: Path) -> Iterator[str]:
    """Messages that are raised, and constants in capitals, with numbers taken out of formatted texts."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in RAISED:
            place = RAISED[node.func.id]
            if len(node.args) > place:
                yield from _words(node.args[place])
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "_" and node.args:
            yield from _words(node.args[0])
        elif isinstance(node, ast.Assign | ast.AnnAssign) and isinstance(node.value, ast.Constant | ast.JoinedStr):
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            if all(isinstance(target, ast.Name) and target.id.isupper() for target in targets):
                yield from _words(node.value)
        elif isinstance(node, ast.Lambda):
            yield from _words(node.body)


def _words(node: ast.expr) -> Iterator[str]:
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        text = node.value
    elif isinstance(node, ast.JoinedStr):
        text = "".join(str(part.value) if isinstance(part, ast.Constant) else "{n}" for part in node.values)
    else:
        return
    if re.search(r"[A-Za-z]{2,} [A-Za-z]", text):  # a sentence, not a name or a pattern
        yield text


def from_data() -> Iterator[str]:
    yield from question_texts()
    yield from question_texts(VISIT_SET)
    yield from rule_texts()
    yield from consent_texts.client_texts()
    yield from paper_pdf.client_words()
    yield from guest_queries.client_words()
    yield WAIT  # also where a client types a code
    for pack in PACKS:
        yield from (line.text for line in pack.required_consent_lines)
        if pack.crisis_line != CHECK_LOCALLY:
            yield pack.crisis_line


@cache
def collected() -> dict[str, tuple[str, ...]]:
    """Every text by itself; one that counts something with its plural."""
    found: dict[str, tuple[str, ...]] = {}
    for texts in from_templates():
        found[texts[0]] = tuple(texts)
    for name in CLIENT_CODE:
        for text in from_code(ROOT / name):
            found.setdefault(text, (text,))
    for text in from_data():
        if text:
            found.setdefault(text, (text,))
    return found


def bring_up(language: str) -> list[str]:
    """Writes the catalogue of a language anew and gives the texts that it has no words for."""
    file = CATALOGUES / f"{language}.po"
    held = {}
    if file.exists():
        with file.open("rb") as stream:
            held = {_key(message.id): message.string for message in read_po(stream, locale=language) if message.id}
    written = Catalog(locale=language, project="Evenseam", fuzzy=False, header_comment="", charset="utf-8")
    missing = []
    for text, forms in sorted(collected().items()):
        words = held.get(text)
        written.add(forms if len(forms) > 1 else text, words or None)
        if not words or (isinstance(words, tuple) and not all(words)):
            missing.append(text)
    CATALOGUES.mkdir(exist_ok=True)
    with file.open("wb") as stream:
        write_po(stream, written, width=0, omit_header=False, no_location=True)
    return missing


def _key(message_id: object) -> str:
    return str(message_id[0]) if isinstance(message_id, list | tuple) else str(message_id)


def main() -> None:
    for language in LANGUAGES:
        if language != "en":
            print(f"{language}: {len(bring_up(language))} of {len(collected())} texts have no words yet")


if __name__ == "__main__":
    main()
