"""A signed paper as data for its PDF, in the language in which it was signed."""

from datetime import UTC
from pathlib import Path
from typing import Any

from app.consents import papers
from app.consents.paper_queries import OTHER_TITLE, TITLES, SignedPaper
from app.consents.papers import Translate
from app.consents.site_actions import IDENTITIES
from app.platform import languages
from app.platform.pages import day_words, moment_words
from app.platform.pdf import make_pdf

TEMPLATE = str(Path("consents") / "paper.typ")
KEYWORD = "evenseam-paper-"
WORDS = {
    "about": "What it is about",
    "answered": "What was asked and answered",
    "signature": "Signature",
    "drawn": "Drawn signature of the client",
    "guardian_drawn": "Drawn signature of the guardian",
    "hash": "Check sum (SHA-256)",
    "hash_hint": "It stands for everything above, word for word. The studio can show that its record has the same one.",
    "before": "Signed before check sums were kept.",
    "site": "Confirmed on site",
    "site_hash": "Check sum of this part",
    "since": "Since then",
}
FACTS = ("Client", "Born on", "Signed on", "Version of the text", "Typed name", "Why typed", "Form",
         "Document seen", "Interpreter", "Guardian", "Guardian’s document", "Countersigned")  # fmt: skip
ANSWERS = {"yes": "Yes", "no": "No", "": "Left open"}
STANDING = "Said yes to before, and not asked again: {permissions}."
TAKEN_BACK_CLIENT = "{permission}: taken back by the client on {moment}."
TAKEN_BACK_STUDIO = "{permission}: taken back through the studio on {moment}."


def client_words() -> tuple[str, ...]:
    """What the paper says of its own accord, for the catalogues."""
    more = (STANDING, TAKEN_BACK_CLIENT, TAKEN_BACK_STUDIO, *TITLES.values(), OTHER_TITLE)
    return (*WORDS.values(), *FACTS, *ANSWERS.values(), *IDENTITIES.values(), *more)


def make_paper(paper: SignedPaper, time_zone: str, drawing: bytes = b"", guardian: bytes = b"") -> bytes:
    """The PDF of what was signed: as it was shown, with its signature, its hash, and what came after."""
    with languages.speaking(paper.language):
        return make_pdf(TEMPLATE, _data(paper, time_zone, drawing, guardian))


def _data(paper: SignedPaper, time_zone: str, drawing: bytes, guardian: bytes) -> dict[str, Any]:
    say: Translate = languages.gettext
    at = paper.signed_at.astimezone(UTC)
    form = paper.about.get("form")
    facts = [
        (say("Client"), paper.client_name),
        *([(say("Born on"), day_words(paper.born_on))] if paper.born_on else []),
        (say("Signed on"), _moment(paper.signed_at, time_zone)),
        (say("Version of the text"), paper.version),
        *([(say("Form"), str(form))] if form else []),
    ]
    typed = [(say("Typed name"), paper.typed_name)] if paper.typed_name else []
    if paper.typed_reason:
        typed.append((say("Why typed"), say(paper.typed_reason)))
    standing = say(STANDING).replace("{permissions}", ", ".join(paper.standing)) if paper.standing else ""
    return {
        "title": say(paper.title),
        "lang": paper.language,
        "words": {key: say(words) for key, words in WORDS.items()},
        "keyword": f"{KEYWORD}{paper.hash}" if paper.hash else "evenseam-paper",
        "date": [at.year, at.month, at.day, at.hour, at.minute, at.second],
        "studio": paper.studio,
        "foot": f"{say(WORDS['hash'])} {paper.hash[:8]} …" if paper.hash else say(WORDS["before"]),
        "facts": facts,
        "notice": paper.notice,
        "zones": list(paper.zones),
        "procedures": list(paper.procedures),
        "blocks": [{"kind": block.kind, "lines": list(block.lines)} for block in paper.blocks],
        "asked": [
            {"asked": each.asked, "hint": each.hint, "answer": say(ANSWERS[each.answer])} for each in paper.asked
        ],
        "standing": standing,
        "drawing": list(drawing),
        "guardian": list(guardian),
        "signed": typed,
        "hash": papers.grouped(paper.hash) if paper.hash else "",
        "site": _site(paper, time_zone, say),
        "site_hash": papers.grouped(paper.site.paper_hash) if paper.site is not None else "",
        "since": _since(paper, time_zone, say),
    }


def _moment(moment: Any, time_zone: str) -> str:
    return f"{moment_words(moment, time_zone)} ({time_zone})"


def _site(paper: SignedPaper, time_zone: str, say: Translate) -> list[tuple[str, str]]:
    site = paper.site
    if site is None:
        return []
    seen = say(IDENTITIES[site.identity_kind]) + (f": {site.identity_words}" if site.identity_words else "")
    return [
        (say("Document seen"), seen),
        *([(say("Interpreter"), site.interpreter)] if site.interpreter else []),
        *([(say("Guardian"), f"{site.guardian_name}, {site.guardian_relation}"),
           (say("Guardian’s document"), site.guardian_identity)] if site.guardian_name else []),
        (say("Countersigned"), f"{site.countersigned_name}, {_moment(site.countersigned_at, time_zone)}"),
    ]  # fmt: skip


def _since(paper: SignedPaper, time_zone: str, say: Translate) -> list[str]:
    return [
        say(TAKEN_BACK_CLIENT if line.revoked_how == "client" else TAKEN_BACK_STUDIO)
        .replace("{permission}", say(line.named))
        .replace("{moment}", _moment(line.revoked_at, time_zone))
        for line in paper.since
    ]
