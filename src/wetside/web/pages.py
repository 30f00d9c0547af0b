"""How a page is drawn: one Jinja2 environment, the places a person can go, and formats of figures."""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from fastapi import Request
from fastapi.templating import Jinja2Templates
from markupsafe import Markup, escape
from starlette.responses import Response

from wetside.figures.finding import gathered
from wetside.figures.sources import BEHIND, cited, sources

HERE = Path(__file__).parent
STATIC = HERE / "static"


@dataclass(frozen=True, slots=True)
class Place:
    """A page of the way a roll goes: its path, name, and what one does there."""

    path: str
    name: str
    say: str


WAY = (
    Place("/shelf", "Shelf", "Film, baths and gear, and what is due"),
    Place("/plan", "Plan", "At home, to a laboratory, or wait"),
    Place("/bench", "Bench", "Mix, warm, pour and time a run"),
    Place("/glass", "Glass", "The negative on the glass: densities and marks"),
    Place("/print", "Print", "The roll as positives, each with its light"),
    Place("/control", "Control", "Whether the process held, from control strips"),
    Place("/causes", "Causes", "What made this, and the cheapest next test"),
    Place("/stocks", "Stocks", "What a stock can do, learned from your own rolls"),
    Place("/ink", "Ink", "The book: every line, as it was noted"),
)


def day(seconds: float | None) -> str:
    """A local day, as in 3 May 2026."""
    if seconds is None:
        return "–"
    when = datetime.datetime.fromtimestamp(seconds).astimezone()
    return f"{when.day} {when:%b %Y}"


def iso_day(text: str | None) -> str:
    """A day written as the ISO does, in the words of `day`; other words as they are."""
    try:
        when = datetime.date.fromisoformat(text or "")
    except ValueError:
        return text or "–"
    return f"{when.day} {when:%b %Y}"


def clock(seconds: float | None) -> str:
    """A local time of day to the minute."""
    return "–" if seconds is None else f"{datetime.datetime.fromtimestamp(seconds).astimezone():%H:%M}"


def clock_to_the_second(seconds: float | None) -> str:
    """A local time of day to the second."""
    return "–" if seconds is None else f"{datetime.datetime.fromtimestamp(seconds).astimezone():%H:%M:%S}"


def span(seconds: float) -> str:
    """A length of time in hours and minutes."""
    hours, minutes = divmod(round(seconds / 60), 60)
    return f"{hours} h {minutes} min" if hours else f"{minutes} min"


def amount(value: float | None, digits: int = 2) -> str:
    """A number to so many decimals with a true minus; an en dash where it is unknown."""
    if value is None or value != value:
        return "–"
    text = f"{value:.{digits}f}"
    return (text if float(text) else text.lstrip("-")).replace("-", "−")


def upward(value: float | None, digits: int = 3) -> str:
    """A spread to so many decimals, rounded away from nothing."""
    return "–" if value is None else amount(math.ceil(value * 10**digits - 1e-6) / 10**digits, digits)


def signed(value: float | None, digits: int = 2) -> str:
    """The same with its sign written."""
    text = amount(value, digits)
    return text if text.startswith("−") or text == "–" else f"+{text}"


def told(value: object) -> str:
    """A value of the book in words: yes or no, a whole number as one, another to one decimal or, under one, to two; else as it is."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if not isinstance(value, float):
        return str(value)
    return amount(value, 0 if value.is_integer() else 1 if abs(value) >= 1 else 2)


def lined(text: str) -> Markup:
    """A statement in which "(line …)" leads to that line of the book, and a source's id to its title below."""

    def line(found: re.Match[str]) -> str:
        name = found[1]
        return f'(<a href="/ink/line/{name}">line {name if len(name) <= 16 else name[:8] + "…"}</a>)'

    def source(found: re.Match[str]) -> str:
        return f'(<a href="#source-{found[1]}">{found[1]}</a>)' if found[1] in sources() else found[0]

    linked = re.sub(r"\(line ([A-Za-z0-9._-]{1,64})\)", line, str(escape(text)))
    return Markup(BEHIND.sub(source, linked))


def cited_all() -> dict[str, str]:
    """Every source's id in a reader's words."""
    return {name: cited(name) for name in sources()}


def sentence(text: str) -> str:
    """Words as a sentence: with a capital and a full stop."""
    said = text.strip()
    return f"{said[:1].upper()}{said[1:]}{'' if said[-1:] in '.?!:…' else '.'}" if said else ""


def on_page(findings: Sequence[Mapping[str, object]]) -> list[dict[str, str]]:
    """Findings gathered for a page of one roll, which need not say that they are of the roll."""
    found = gathered(findings)
    return [{**one, "say": said_of_roll(one["say"])} for one in found]


def said_of_roll(say: str) -> str:
    of_roll = say.startswith("roll: ")
    return headed(say.removeprefix("roll: ")) if of_roll else say


def headed(text: str) -> str:
    """Words as a heading: with a capital."""
    return f"{text[:1].upper()}{text[1:]}"


def slug(text: str) -> str:
    """Words as the name of a place on the page."""
    return re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-")


templates = Jinja2Templates(directory=HERE / "templates")
templates.env.trim_blocks = templates.env.lstrip_blocks = True
templates.env.filters.update(
    clock_to_the_second=clock_to_the_second,
    span=span,
    sentence=sentence,
    headed=headed,
    slug=slug,
    gathered=on_page,
    cited=cited,
    day=day,
    iso_day=iso_day,
    clock=clock,
    amount=amount,
    upward=upward,
    signed=signed,
    told=told,
    lined=lined,
)
templates.env.globals.update(way=WAY, cited_all=cited_all)


def page(request: Request, template: str, *, status: int = 200, **context: object) -> Response:
    """A page from its template; `here` is the place of the way it belongs to."""
    here = next((place for place in WAY if request.url.path.startswith(place.path)), None)
    return templates.TemplateResponse(request, template, {"here": here, **context}, status_code=status)
