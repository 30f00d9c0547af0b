"""A line of the book in plain words, kind by kind; a kind that is not known here is its fields that say something."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from wetside.book.line import Line

Fields = Mapping[str, Any]
PROCESSES = {"ecn-2": "ECN-2", "c-41": "C-41"}
UNSAID: tuple[object, ...] = (None, "", "unknown", [], {}, ())


def sentence(line: Line) -> str:
    """The line in words, without its things' kinds; at most 300 characters of a long one."""
    try:
        words = WORDS.get(line.kind, _fields)(line.body)
    except (KeyError, TypeError, ValueError):  # a line of an older or a later program
        words = _fields(line.body)
    note = line.body.get("note")
    told = f"{words}; {note}" if words and note and line.kind in WORDS else words or str(note or "")
    return told if line.kind in ("note", "correction") else told[:300]


def _fields(body: Fields) -> str:
    return _said(
        *(
            f"{key.replace('_', ' ')} {value}"
            for key, value in body.items()
            if value not in UNSAID and value is not False and not isinstance(value, dict | list)
        )
    )


def _said(*parts: str | None) -> str:
    return ", ".join(part for part in parts if part)


def _with(word: str, value: object, unit: str = "") -> str:
    """A word and a value after it; nothing where the value says nothing."""
    if value in UNSAID:
        return ""
    told = f"{value:g}" if isinstance(value, float) else str(value)
    return f"{word} {told}{unit}".strip()


def _length(body: Fields) -> str:
    return f"{body['length_mm'] / 1000:.2f} m of " if body.get("length_mm") else ""


def _rgb(densities: object) -> str:
    if not isinstance(densities, Mapping) or not densities:
        return ""
    each = (round(float(densities.get(c, 0.0)), 2) + 0.0 for c in "rgb")
    return " ".join(f"{one:.2f}" for one in each).replace("-", "−")


def _frames(body: Fields) -> str:
    first, last = body["first_frame"], body["last_frame"]
    return f"frame {first}" if first == last else f"frames {first} to {last}"


def _stops(stops: object) -> str:
    if not isinstance(stops, int | float) or not stops:
        return ""
    return f"{abs(stops):g} {'stop' if abs(stops) == 1 else 'stops'} {'over' if stops > 0 else 'under'}"


def _stock(body: Fields) -> str:
    return _said(
        f"{body['stock']}: {PROCESSES.get(str(body.get('process')), body.get('process'))}",
        _with("for", body.get("balance")), _with("rated", body.get("rated_ei")), _with("backing", body.get("backing")),
        _with("expires", body.get("expires_on")),
    )  # fmt: skip


def _roll(body: Fields) -> str:
    return _said(
        f"{body['roll']} is {_length(body)}{body['stock']} ({body['gauge']})", _with("for", body.get("camera")),
        _with("twin of", body.get("twin_of")),
    )  # fmt: skip


def _exposed(body: Fields) -> str:
    return _said(
        f"{_frames(body)} of {body['roll']} exposed", _with("at EI", body.get("ei")), _stops(body.get("stops")),
        _with("in", body.get("light")), _with("through", body.get("filter")), str(body.get("subject") or ""),
    )  # fmt: skip


def _kit(body: Fields) -> str:
    return _said(
        f"kit {body['kit']} bought",
        _with("for", body.get("price")),
        _with("makes", body.get("makes_ml"), " mL"),
    )


def _bath(body: Fields) -> str:
    return _said(
        f"{body['bath']} mixed: {body['volume_ml']:g} mL of {body['role']}", _with("from", body.get("kit")), _with("out of", body.get("from_bath")),
        _with("pH", body.get("ph")), _with("bottle", body.get("bottle")),
    )  # fmt: skip


def _emptied(body: Fields) -> str:
    return _said(f"{body['bath']} emptied", _with("to", body.get("to")))


def _tank(body: Fields) -> str:
    return _said(
        f"tank {body['tank']}", _with("holds", body.get("volume_ml"), " mL"), _with("weighs", body.get("mass_g"), " g"),
        str(body.get("material") or ""), _with("reels", body.get("reels")),
    )  # fmt: skip


def _reel(body: Fields) -> str:
    return _said(
        f"reel {body['reel']} for {body.get('gauge') or 'any gauge'}", _with("core", body.get("inner_radius_mm"), " mm"),
        _with("groove to groove", body.get("pitch_mm"), " mm"), str(body.get("material") or ""),
    )  # fmt: skip


def _thermometer(body: Fields) -> str:
    if body.get("read_c") is None or body.get("true_c") is None:
        return f"{body['thermometer']} noted, not compared"
    spread = body.get("spread_c")
    good = f" (good to {spread:g})" if spread else ""
    return f"{body['thermometer']} read {body['read_c']:g} °C where a better one read {body['true_c']:g} °C{good}"


def _gear(body: Fields) -> str:
    return f"{body['gear_kind']} {body['name']}"


def _run(body: Fields) -> str:
    rolls = ", ".join(str(one.get("roll")) for one in body.get("rolls") or () if one.get("roll"))
    return _said(
        f"{body['run']} begins: {rolls or 'no roll named'}", _with("in", body.get("tank")), PROCESSES.get(str(body.get("process")), str(body.get("process"))),
        _with("push", body.get("push_stops") or None), _with("own developer time", body.get("developer_s"), " s"), _with("as in", body.get("like")),
    )  # fmt: skip


def _event(body: Fields) -> str:
    fields = body.get("fields")
    told = dict(fields) if isinstance(fields, Mapping) else {}
    if body.get("event") == "temperature" and "celsius" in told:
        where = told.get("step") or told.get("place") or ""
        return _said(f"{float(told['celsius']):.1f} °C", str(where))
    words = ", ".join(f"{value}" for value in told.values() if value not in UNSAID and value is not True)
    return f"{body['event']}: {words}" if words else str(body["event"])


def _scan(body: Fields) -> str:
    what = f"frame {body['frame']}" if body.get("frame") is not None else str(body.get("role") or "file")
    turned = _with("turned", body.get("turn") or None, "°")
    return _said(
        f"{what} of {body['roll']} is {body['file']}", turned, "mirrored" if body.get("mirrored") else ""
    )


def _measured(body: Fields) -> str:
    what = {"departures": "departures from the aim noted", "read": "read"}.get(
        str(body["what"]), str(body["what"])
    )
    result = body.get("result")
    base = _rgb(result.get("base")) if isinstance(result, Mapping) else ""
    return _said(f"{body['roll']}: {what}", _with("base", base if base.strip("0. ") else ""))


def _trim(body: Fields) -> str:
    whose = f"{body['file']} of {body['roll']}" if body.get("file") else f"all of {body['roll']}"
    return f"lights of {whose}: {_rgb(body)} D"


def _greys(body: Fields) -> str:
    return f"{len(body.get('spots') or ())} places of {body['roll']} named grey"


def _batch(body: Fields) -> str:
    strips = f"{body['strips']} strips" if body.get("strips") else "control strips"
    return f"{strips} of batch {body['batch']} on {body['stock']}"


def _strip(body: Fields) -> str:
    return _said(
        f"strip of {body['batch']} {'is the reference' if body.get('reference') else 'read after ' + str(body.get('run'))}",
        *(f"{name} {_rgb(body.get(key))}" for name, key in (("D-min", "dmin"), ("LD", "ld"), ("HD", "hd")) if body.get(key)),
    )  # fmt: skip


def _aim(body: Fields) -> str:
    return f"the aim of {body['batch']} is set by {', '.join(body['runs'])}"


def _calibrated(body: Fields) -> str:
    return (
        f"calibration {body['calibration']} to {body.get('aim')}, for {body['light']} and {body['scanner']}"
    )


def _light(body: Fields) -> str:
    return _said(f"{body['light']} seen without film by {body['scanner']}", _with("level", _rgb(body.get("level"))))  # fmt: skip


def _parcel(body: Fields) -> str:
    went = f"sent to {body['laboratory']}" if body.get("way") == "sent" else f"back from {body['laboratory']}"
    return _said(f"{', '.join(body['rolls'])} {went}", _with("parcel", body["parcel"]), _with("cost", body.get("cost")))  # fmt: skip


def _judged(body: Fields) -> str:
    return f"{body['about']} {body['subject']} of {body['roll']}: {body['answer']}"


def _issued(body: Fields) -> str:
    spread = f" ± {body['spread']:.2g}" if body.get("spread") else ""
    return f"{body['figure']} {body['value']:.3g}{spread} of {body['stock']} carried to a shoot"


def _planned(body: Fields) -> str:
    rolls = body.get("request", {}).get("rolls") or () if isinstance(body.get("request"), Mapping) else ()
    return f"a plan for {', '.join(str(one.get('id')) for one in rolls)}"


def _correction(body: Fields) -> str:
    return _said(f"strikes {body.get('strikes')}: {body.get('reason', '')}", _with("in its place", body.get("instead")))  # fmt: skip


def _note(body: Fields) -> str:
    return str(body.get("text", ""))


WORDS: dict[str, Callable[[Fields], str]] = {
    "stock": _stock, "roll": _roll, "exposed": _exposed, "kit": _kit, "bath": _bath, "bath emptied": _emptied, "tank": _tank,
    "reel": _reel, "thermometer": _thermometer, "gear": _gear, "run": _run, "run event": _event, "scan": _scan,
    "measured": _measured, "print trim": _trim, "print greys": _greys, "strip batch": _batch, "strip": _strip,
    "control aim": _aim, "calibration": _calibrated, "light seen": _light, "parcel": _parcel, "judged": _judged,
    "issued": _issued, "plan": _planned, "correction": _correction, "note": _note,
}  # fmt: skip
