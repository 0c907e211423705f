"""Pages: Jinja templates with what all of them need. A fragment is a file: included by a page, returned by a route."""

from datetime import date, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from fastapi import Request
from fastapi.responses import HTMLResponse, RedirectResponse
from jinja2 import Environment, FileSystemLoader, StrictUndefined, select_autoescape

from app.platform.forms import Filled

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
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} {last} {words[-1]}" if words else ""


def make_environment() -> Environment:
    environment = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=select_autoescape(default=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters.update(day=day_words, moment=moment_words, number=number_words, listed=list_words)
    return environment


ENVIRONMENT = make_environment()


def render(template: str, **context: Any) -> str:
    return ENVIRONMENT.get_template(template).render(**context)


def show(request: Request, template: str, *, status: int = 200, **context: Any) -> HTMLResponse:
    """Answers with a page. `who` and `nav` may be absent: a client's page has neither."""
    studio = getattr(request.state, "studio", None)
    context.setdefault("who", getattr(request.state, "who", None))
    context.setdefault("nav", "")
    context.setdefault("form", Filled())
    context.setdefault("studio", studio)
    context.setdefault("studio_name", studio.name if studio else "Evenseam")
    context.setdefault("time_zone", studio.time_zone if studio else "UTC")
    context.setdefault("is_demo", request.app.state.service.settings.demo)
    return HTMLResponse(render(template, **context), status_code=status)


def see(address: str) -> RedirectResponse:
    """After a change: go and look (303)."""
    return RedirectResponse(address, status_code=303)
