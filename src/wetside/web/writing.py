"""Write it down: a form for each thing a person notes by hand away from a run; what it says is one line of the book."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.responses import RedirectResponse, Response

from wetside.app.book import happened, note
from wetside.app.shelf import shelf
from wetside.figures.finding import Unusable
from wetside.store import clock
from wetside.web.fields import BACKINGS, GAUGES, LONGEST, NUMBERS, PROCESSES, Field, number_of
from wetside.web.pages import page

router = APIRouter(include_in_schema=False)
#: Characters of a field; a moment may be ahead of this machine's clock by as much as zones differ [s].
MOST, A_DAY = 300, 86_400.0
MATERIALS = (("plastic", "plastic"), ("steel", "steel"))
NOTE = Field("note", "In your words")


@dataclass(frozen=True, slots=True)
class Form:
    """What is asked for one kind of line: its word on the page, what it is for, its fields."""

    say: str
    about: str
    fields: tuple[Field, ...]


FORMS = {
    "roll": Form("A roll", "A length of film cut, loaded or bought for one camera.", (
        Field("roll", "Its name, as on the can", needed=True), Field("stock", "Stock", known="stocks", needed=True), Field("gauge", "Gauge", "choice", GAUGES),
        Field("length_mm", "Length, m", "number", unit=0.001, hint="36 of 35 mm: 1.6", low=10, high=LONGEST), Field("camera", "Camera", known="cameras"), Field("twin_of", "Twin of roll", known="rolls"), NOTE,
    )),
    "exposed": Form("Exposures", "How one frame, or a stretch of frames alike, was exposed.", (
        Field("roll", "Roll", known="rolls", needed=True), Field("first_frame", "From frame", "whole", needed=True, low=0), Field("last_frame", "To frame", "whole", hint="the same", low=0),
        Field("ei", "Metered at EI", "number", low=0.1), Field("stops", "Stops over the meter", "signed", hint="0; under: −1"), Field("light", "Light", known="lights"),
        Field("filter", "Filter"), Field("subject", "Subject", hint="grey scale"), Field("camera", "Camera", known="cameras"), NOTE,
    )),
    "stock": Form("A stock", "A film as bought: what is printed on the can.", (
        Field("stock", "Its name", known="stocks", needed=True), Field("process", "Process", "choice", PROCESSES), Field("rated_ei", "Rated EI", "number", low=0.1),
        Field("balance", "Balanced for", "choice", (("unknown", "not known"), ("daylight", "daylight"), ("tungsten", "tungsten"))),
        Field("backing", "Backing", "choice", (BACKINGS[-1], *BACKINGS[:-1])), Field("expires_on", "Expires on", "date"), NOTE,
    )),
    "parcel": Form("A parcel", "Rolls on their way to a laboratory, or back.", (
        Field("parcel", "Its name", needed=True), Field("laboratory", "Laboratory", known="laboratories", needed=True), Field("rolls", "Rolls, with commas", needed=True, known="rolls"),
        Field("way", "It was", "choice", (("sent", "sent"), ("returned", "returned"))), Field("cost", "Cost", "number", low=0), NOTE,
    )),
    "tank": Form("A tank", "What it holds and is made of: how it warms and cools follows.", (
        Field("tank", "Its name", needed=True), Field("volume_ml", "Holds, mL", "number", low=10), Field("mass_g", "Weighs empty, g", "number", low=1),
        Field("material", "Of", "choice", MATERIALS), Field("reels", "Reels", "whole", hint="1", low=1), NOTE,
    )),
    "reel": Form("A reel", "Where a mark lay in the tank is reckoned from its spiral.", (
        Field("reel", "Its name", needed=True), Field("gauge", "Gauge", "choice", GAUGES), Field("inner_radius_mm", "Core's radius, mm", "number", low=1),
        Field("pitch_mm", "From groove to groove, mm", "number", low=0.1), Field("material", "Of", "choice", MATERIALS), NOTE,
    )),
    "gear": Form("Other gear", "A camera, a light, a scanner, a laboratory: what rolls may have in common.", (
        Field("gear_kind", "It is a", "choice", tuple((one, one) for one in ("camera", "light", "scanner", "laboratory"))), Field("name", "Its name", needed=True), NOTE,
    )),
}  # fmt: skip
WHEN = Field("when", "When", "moment")


def home(request: Request) -> Path:
    return Path(request.app.state.home)


@router.get("/shelf/write")
async def a_form(
    request: Request, kind: str = "roll", roll: str = "", stock: str = "", back: str = ""
) -> Response:
    """The form of one kind, with what is known already filled in; `back`: a roll whose parcel has returned."""
    known = {"roll": roll[:120], "stock": stock[:120]}
    if kind == "parcel" and back:
        known |= await run_in_threadpool(returning, home(request), back)
    return await drawn(request, kind if kind in FORMS else "roll", known)


@router.post("/shelf/write")
async def a_line(request: Request) -> Response:
    """The line that a filled form says; a slip shows the form again as it was filled."""
    form = await request.form(max_fields=40)
    kind = str(form.get("kind", ""))
    if kind not in FORMS:
        raise Unusable(f"no form of kind {kind[:40]!r}", "kind")
    try:
        line = await run_in_threadpool(written, home(request), kind, form)
    except Unusable as no:
        filled = {key: str(value)[:400] for key, value in form.items()}
        return await drawn(request, kind, filled, slip=no.what)
    return RedirectResponse(f"/shelf?{urlencode({'wrote': line})}", status_code=303)


def written(home: Path, kind: str, form: FormData) -> str:
    """Write what a form says; the id of its line. Unusable names the field, or a roll that stands on the shelf already."""
    values = values_of(kind, form)
    if kind == "roll" and values["roll"] in names(home)["rolls"]:
        raise Unusable(
            f"{values['roll']} is on the shelf already; to write it anew, strike its first line", "roll"
        )
    for name in spoken_of(kind, values):
        on_the_shelf(name, names(home)["rolls"])
    when = happened(str(form.get("when") or "") or None, "when")
    if when is not None and when > clock.wall() + A_DAY:
        raise Unusable("When: that day is still to come", "when")
    return note(home, kind, values, when).id


def returning(home: Path, roll: str) -> dict[str, str]:
    """The fields of a parcel's return, from the line that sent it."""
    sent = next((one["parcel"] for one in shelf(home)["rolls"] if one["roll"] == roll), None)
    return {**sent, "rolls": ", ".join(sent["rolls"]), "way": "returned"} if sent else {}


def spoken_of(kind: str, values: Mapping[str, str]) -> list[str]:
    """Rolls that a form speaks of and that must stand on the shelf before."""
    if kind == "parcel":
        return [name for part in values["rolls"].split(",") if (name := part.strip())]
    said = values.get({"exposed": "roll", "roll": "twin_of"}.get(kind, ""))
    return [said] if said else []


def on_the_shelf(name: str, rolls: list[str]) -> None:
    """Unusable where no roll of that name was written down: a slip of the pen would else be lost without a word."""
    if name not in rolls:
        near = get_close_matches(name, rolls, 1, 0.5)
        raise Unusable(f"no roll {name} on the shelf{f'; the nearest is {near[0]}' if near else ''}. Write the roll down first", "roll")  # fmt: skip


def values_of(kind: str, form: FormData) -> dict[str, str]:
    """The fields of a line in the words that the book takes, empty ones left out."""
    values: dict[str, str] = {}
    for field in FORMS[kind].fields:
        text = str(form.get(field.key) or "").strip()
        if len(text) > MOST or any(ord(sign) < 32 for sign in text):
            raise Unusable(f"{field.say}: up to {MOST} characters on one line", field.key)
        if not text and field.needed:
            raise Unusable(f"{field.say} is needed", field.key)
        if field.kind == "choice" and text not in dict(field.options):
            raise Unusable(f"{field.say}: one of {', '.join(dict(field.options))}", field.key)
        if text:
            number = field.kind in NUMBERS
            values[field.key] = str(number_of(text, field, "")) if number else text
    if kind == "exposed" and int(values.setdefault("last_frame", values["first_frame"])) < int(
        values["first_frame"]
    ):
        raise Unusable("To frame: not before the first", "last_frame")
    if kind == "parcel" and not values["rolls"].strip(" ,"):
        raise Unusable("Rolls, with commas is needed", "rolls")
    return values


def names(home: Path) -> dict[str, list[str]]:
    """Names that a form offers, from the book; and words for light."""
    there = shelf(home)
    gear = [(thing["kind"], thing["name"]) for thing in there["gear"]]
    return {
        "rolls": [roll["roll"] for roll in there["rolls"]],
        "stocks": sorted({one["stock"] for one in (*there["stocks"], *there["rolls"])}),
        "cameras": sorted(
            {name for kind, name in gear if kind == "camera"}
            | {roll["camera"] for roll in there["rolls"] if roll["camera"]}
        ),
        "laboratories": [name for kind, name in gear if kind == "laboratory"],
        "lights": ["daylight", "tungsten", "mixed"],
    }


def was_written(line: Mapping[str, Any]) -> dict[str, Any]:
    """What the shelf says of a line that was just written, and which forms lie next."""
    return {
        "id": line["id"], "kind": line["kind"], "say": "in the book: " + ", ".join(named.replace(":", " ", 1) for named in line["things"]),
        "more": f"{FORMS[line['kind']].say} more" if line["kind"] in FORMS else "",
        "roll": line["body"].get("roll") if line["kind"] == "roll" else None,
    }  # fmt: skip


async def drawn(request: Request, kind: str, filled: dict[str, str], slip: str = "") -> Response:
    shown: dict[str, Any] = {
        "kind": kind, "form": FORMS[kind], "forms": FORMS, "filled": filled, "when": WHEN, "slip": slip,
        "known": await run_in_threadpool(names, home(request)),
    }  # fmt: skip
    return page(request, "write.html", status=422 if slip else 200, **shown)
