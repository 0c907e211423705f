"""Pages: Jinja templates with what all of them need. A fragment is a file: included by a page, returned by a route."""

from datetime import date, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from fastapi import Request
from fastapi.responses import HTMLResponse, RedirectResponse
from jinja2 import Environment, FileSystemLoader, StrictUndefined, select_autoescape

from app.platform import languages
from app.platform.forms import Filled

LARGE_TEXT_COOKIE = "evenseam_large_text"  # "yes": a client's pages come in larger letters on this device
ROOT = Path(__file__).resolve().parents[2]
TEMPLATES = ROOT / "templates"
STATIC = ROOT / "static"
MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)


def day_words(day: date | None, *, year: bool = True) -> str:
    """14 November 2026"""
    if day is None:
        return ""
    if (language := languages.in_use()) != languages.DEFAULT:
        return languages.day_in(day, language, year=year)
    return f"{day.day} {MONTHS[day.month - 1]}" + (f" {day.year}" if year else "")


def moment_words(moment: datetime | None, time_zone: str = "UTC") -> str:
    """14 November 2026, 09:05, where the studio stands"""
    if moment is None:
        return ""
    local = moment.astimezone(ZoneInfo(time_zone))
    return f"{day_words(local.date())}, {local:%H:%M}"


def number_words(value: float, digits: int = 1) -> str:
    """1.5, 3: without noughts that say nothing"""
    text = f"{value:.{digits}f}"
    return (text.rstrip("0").rstrip(".") if "." in text else text) or "0"


def list_words(words: list[str], last: str = "and") -> str:
    """a, b and c"""
    last = languages.gettext(last)
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} {last} {words[-1]}" if words else ""


def make_environment() -> Environment:
    environment = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=select_autoescape(default=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        extensions=["jinja2.ext.i18n"],
    )
    speak(environment)
    environment.filters.update(day=day_words, moment=moment_words, number=number_words, listed=list_words)
    return environment


def speak(environment: Environment) -> None:
    """Gives templates `_("…")` for a text and `{% trans %}` for one with values, in the language of the page."""
    environment.install_gettext_callables(languages.gettext, languages.ngettext, newstyle=True)  # type: ignore[attr-defined]  # the extension adds it
    # The extension's own `_` would read every text as a format, and stumble over a percent sign.
    environment.globals["_"] = languages.gettext


ENVIRONMENT = make_environment()


def render(template: str, **context: Any) -> str:
    return ENVIRONMENT.get_template(template).render(**context)


def show(request: Request, template: str, *, status: int = 200, **context: Any) -> HTMLResponse:
    """Answers with a page. `who` and `nav` may be absent: a client's page has neither. `lang` is the client's."""
    studio = getattr(request.state, "studio", None)
    context.setdefault("who", getattr(request.state, "who", None))
    context.setdefault("nav", "")
    context.setdefault("form", Filled())
    context.setdefault("studio", studio)
    context.setdefault("studio_name", studio.name if studio else "Evenseam")
    context.setdefault("time_zone", studio.time_zone if studio else "UTC")
    context.setdefault("is_handed_over", getattr(request.state, "is_handed_over", False))
    context.setdefault("is_large", request.cookies.get(LARGE_TEXT_COOKIE) == "yes")
    context.setdefault("here", f"{request.url.path}?{request.url.query}".rstrip("?"))
    context.setdefault("is_translated", "lang" in context or hasattr(request.state, "language"))
    context.setdefault("is_demo", request.app.state.service.settings.demo)
    lang = context.setdefault("lang", getattr(request.state, "language", languages.DEFAULT))
    context.setdefault("direction", languages.direction(lang))
    context.setdefault("languages", languages.LANGUAGES)
    with languages.speaking(lang):
        return HTMLResponse(render(template, **context), status_code=status)


def see(address: str) -> RedirectResponse:
    """After a change: go and look (303)."""
    return RedirectResponse(address, status_code=303)
