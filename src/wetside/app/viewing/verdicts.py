"""Verdicts on marks as lines of the book: noted on the glass, honoured wherever a roll's marks are used."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from wetside.app.reading.lie import Told, lie_told
from wetside.book.kinds import Judged
from wetside.book.life import standing
from wetside.book.line import Line, Thing
from wetside.figures.finding import Unusable
from wetside.figures.place import Rectangle, intersection_over_union, part_from_json
from wetside.stages.causes.signs.film import Lie, film_mm
from wetside.stages.causes.signs.verdicts import ANSWERS, SAME, Verdict, box_of, with_verdicts
from wetside.store import clock
from wetside.store.dropped import say_on, words_on
from wetside.store.ledger import FILE, Ledger

SMALLEST = 4
#: A drawn mark of which more than this share lies outside of the picture is in unexposed film: the user saw it there.
BEYOND = 0.2
#: A drawn mark over this share of its picture's height is a band.
WHOLE_HEIGHT = 0.9


def verdicts_of(lines: Iterable[Line], roll: str) -> list[Verdict]:
    """The user's words on a roll's marks, in the order they were given."""
    found = []
    for line in lines:
        body: dict[str, Any] = line.body
        if (
            line.kind == "judged"
            and body.get("about") == "mark"
            and body.get("roll") == roll
            and body.get("fields")
        ):
            found.append(verdict_from(body["fields"], body["answer"]))
    return found


def verdict_from(said: Mapping[str, Any], answer: object) -> Verdict:
    """A word on a place, from the fields it was kept with."""
    box = Rectangle(*(int(said[key]) for key in "xywh"))
    return Verdict(str(said["file"]), box, str(answer), said.get("mark"))


def verdicts_at(home: Path, roll: str) -> list[Verdict]:
    """The same from the book in `home`, or beside dropped scans; none where there is no book."""
    if roll.startswith("look-"):
        return [verdict_from(said, said["answer"]) for said in words_on(home / "dropped" / roll)]
    if not (home / FILE).exists():
        return []
    with Ledger.open(home) as book:
        return verdicts_of(standing(book.lines(thing=Thing("roll", roll), include_struck=True)), roll)


def verdicts_for(home: Path, folder: Path) -> list[Verdict]:
    """Verdicts that belong to a folder of scans: those of the roll whose scans lie there, none for any other folder."""
    place = folder.resolve()
    return verdicts_at(home, place.name) if place.parent == (home / "scans").resolve() else []


def judge_mark(home: Path, roll: str, file: str, box: Rectangle, answer: str) -> None:
    """Keep one word on a place of a frame as a line; a drawn mark is read from linear data where there are any.

    Of dropped scans it is kept beside them, and becomes a line when they are kept as a roll.
    """
    from wetside.app.viewing.glass import frame_of

    frame_of(home, roll, file)
    if answer not in ANSWERS:
        raise Unusable(f"a verdict is one of {', '.join(ANSWERS)}; found {answer[:40]!r}", "glass")
    if box.w < SMALLEST or box.h < SMALLEST:
        raise Unusable(
            f"a rectangle of {SMALLEST} × {SMALLEST} pixels at least was expected, found {box.w} × {box.h}",
            "glass",
        )
    fields: dict[str, object] = {"file": file, **box.as_json()}
    if answer == "drawn":
        fields["mark"] = drawn_mark(home, roll, file, box)
    elif answer == "confirmed" and (mark := mark_seen(home, roll, file, box)):
        fields["mark"] = mark
    if roll.startswith("look-"):
        say_on(home / "dropped" / roll, {**fields, "answer": answer})
        return
    with Ledger.open(home) as book:
        book.append(word_on_mark(roll, answer, fields), happened_at=clock.wall())


def word_on_mark(roll: str, answer: str, fields: Mapping[str, Any]) -> Judged:
    """A word on a place of a roll's frame as the book holds it."""
    subject = f"{fields['file']} {fields['x']},{fields['y']},{fields['w']},{fields['h']}"
    return Judged(roll=roll, about="mark", subject=subject, answer=answer, fields=dict(fields))


def mark_seen(home: Path, roll: str, file: str, box: Rectangle) -> dict[str, Any] | None:
    """The mark, or the place that may be one, of the last reading there: what is confirmed outlives a reading that misses it."""
    from wetside.app.viewing.glass import last_reading

    reading, _ = last_reading(home, roll)
    frame: dict[str, Any] = next((f for f in (reading or {}).get("frames", ()) if f["file"] == file), {})
    near = [
        (intersection_over_union(box_of(one), box), one)
        for one in (*frame.get("marks", ()), *frame.get("perhaps", ()))
    ]
    share, best = max(near, key=lambda pair: pair[0], default=(0.0, None))
    return best if share > SAME else None


def drawn_mark(home: Path, roll: str, file: str, box: Rectangle) -> dict[str, object]:
    """A mark as the reading would give it: its density against its surroundings, its place on the film; null where unknown."""
    from wetside.app.viewing.densitometer import area_at
    from wetside.app.viewing.glass import last_reading

    reading, _ = last_reading(home, roll)
    band = spans(reading, file, box)
    sides = beside(box)[:2] if band else beside(box)
    unknown = {"r": None, "g": None, "b": None}
    mark: dict[str, object] = {"delta": unknown, "film_mm": None, "across": None, "edge": "sharp", "kind": "band" if band else "drawn",
                               "spread": unknown, "in_rebate": None, "outline": [], "chance": None}  # fmt: skip
    try:
        own = area_at(home, roll, file, box).whole.density
        around = [seen for side in sides if (seen := _density(home, roll, file, side)) is not None]
    except Unusable:
        own, around = None, []
    if own is not None and around:
        middle = [sum(one[c] for one in around) / len(around) for c in range(3)]
        mark["delta"] = {c: round(own[i] - middle[i], 4) for i, c in enumerate("rgb")}
        mark["edge"] = "soft" if band else _edge(home, roll, file, box)
    return {**mark, **_place(reading, file, box, lie_told(home / "scans" / roll))}


def spans(reading: Mapping[str, Any] | None, file: str, box: Rectangle) -> bool:
    """Whether a mark goes over the whole height of its picture, as a band does; False where the picture's place is not known."""
    said = next((frame for frame in (reading or {}).get("frames", ()) if frame["file"] == file), None)
    if said is None or (said.get("part") or {}).get("down"):
        return False
    return box.h >= WHOLE_HEIGHT * float(said["picture"]["h"])


def _edge(home: Path, roll: str, file: str, box: Rectangle) -> str:
    """How a drawn mark ends, by its density against that of its four sides."""
    from wetside.app.viewing.glass import frame_of
    from wetside.stages.causes.signs.outline import edge_against
    from wetside.stages.negative.measured.patches import shrunk_box
    from wetside.store.scans.parts import whole
    from wetside.store.scans.recent import recent

    scan = recent(whole(frame_of(home, roll, file)))
    places = [shrunk_box(one, scan.shrink).clipped_to(scan.width, scan.height) for one in (box, *beside(box))]
    own, *around = [scan.pixels[place.slices] for place in places]
    return edge_against(own, around)


def _density(home: Path, roll: str, file: str, box: Rectangle) -> Any:
    from wetside.app.viewing.densitometer import area_at

    try:
        return area_at(home, roll, file, box).whole.density
    except Unusable:
        return None


def beside(box: Rectangle) -> tuple[Rectangle, ...]:
    """Four rectangles a little off a mark: left, right, above, below it."""
    wide, tall = max(6, box.w // 2), max(6, box.h // 2)
    gap = 3
    return (
        Rectangle(max(0, box.x - gap - wide), box.y, wide, box.h),
        Rectangle(box.x + box.w + gap, box.y, wide, box.h),
        Rectangle(box.x, max(0, box.y - gap - tall), box.w, tall),
        Rectangle(box.x, box.y + box.h + gap, box.w, tall),
    )


def _place(reading: dict[str, Any] | None, file: str, box: Rectangle, told: Told) -> dict[str, object]:
    """Where a drawn mark lies across and along the film, as `read` would say."""
    frames = (reading or {}).get("frames") or ()
    number = next((i for i, f in enumerate(frames) if f["file"] == file), None)
    if reading is None or number is None:
        return {}
    said, lengths = frames[number], reading["geometry"]
    picture, own = Rectangle(*(int(said["picture"][key]) for key in "xywh")), box
    if said.get("part"):
        part = part_from_json(said["part"])
        picture, own = part.in_part(picture), part.in_part(own)
    x, y = own.centre
    across = round(min(1.0, max(0.0, (y - picture.y) / max(1, picture.h))), 4)
    shown = {"in_rebate": True} if _beyond(own, picture) > BEYOND else {}
    starts, pitch, first = lengths.get("starts_mm") or (), lengths["frame_pitch_mm"], 0.0
    place = int(said.get("number") or number + 1)
    if len(starts) > number:
        first, place = starts[number], 1
    lie = Lie(first, pitch, lengths["px_per_mm"], told.from_right)
    at = film_mm(x, picture, place, lie)
    return {"across": across, **shown} if at is None else {"across": across, **shown, "film_mm": round(at, 2)}


def _beyond(mark: Rectangle, picture: Rectangle) -> float:
    """Share of a mark that lies outside of the picture."""
    w = min(mark.x + mark.w, picture.x + picture.w) - max(mark.x, picture.x)
    h = min(mark.y + mark.h, picture.y + picture.h) - max(mark.y, picture.y)
    return 1 - max(0, w) * max(0, h) / (mark.w * mark.h)


def judged_strip(home: Path, roll: str, near: int = 1) -> dict[str, Any]:
    """A roll's strip as the glass shows it, its marks as the user left them."""
    from wetside.app.viewing.glass import strip

    shown, said = strip(home, roll, near), verdicts_at(home, roll)
    if not said or not shown["reading"]:
        return shown
    reading = with_verdicts(shown["reading"], said)
    by_file = {frame["file"]: frame for frame in reading["frames"]}
    frames = [{**f, "read": by_file.get(f["file"])} for f in shown["frames"]]
    return {**shown, "reading": reading, "frames": frames}
