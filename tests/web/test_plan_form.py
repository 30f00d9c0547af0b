"""The plan's form: what is filled in is the request that is planned, and a request fills the form."""

from __future__ import annotations

from datetime import date

import icalendar
import pytest
from starlette.datastructures import FormData

from wetside.app.demo import demo_request
from wetside.app.planning.plan import asked_for, calendar_of, plan
from wetside.figures.finding import Unusable
from wetside.laws.reel.gauges import GAUGES, area_m2
from wetside.web.plan_chart import plan_chart
from wetside.web.plan_form import AREA_A_METRE, TABLES, alone_of, request_of, rows_of


def filled(given: dict) -> FormData:
    """The form as a browser would send it for a request."""
    pairs = [(key, str(value)) for key, value in alone_of(given).items()]
    for key, rows in rows_of(given).items():
        fields = {f.key: f for t in TABLES if t.key == key for f in t.fields}
        for n, row in enumerate(rows):
            for name, value in row.items():
                values = value if fields[name].kind == "choices" else [value]
                pairs += [(f"{key} {n} {name}", str(one)) for one in values if one is not False]
    return FormData(pairs)


def test_a_form_filled_from_a_request_asks_that_request() -> None:
    given = demo_request()
    asks = request_of(filled(given))
    assert asks.pop("baths") == []
    kit, own = asks["kits"][0], given["kits"][0]
    assert kit.pop("area_m2") == pytest.approx(own.pop("area_m2"), rel=1e-3)  # shown to four figures
    assert asks == given


def test_a_metre_of_35_mm_has_the_area_of_its_width() -> None:
    assert area_m2(GAUGES["135"], 1000) == pytest.approx(AREA_A_METRE)


@pytest.mark.parametrize(("text", "say"), [("ten", "a number was expected"), ("1e99", "a number"), ("2.5", "a whole number")])  # fmt: skip
def test_a_slip_in_a_field_is_named(text: str, say: str) -> None:
    form = FormData([("labs 0 id", "Harbour Lab"), ("labs 0 days", text)])
    with pytest.raises(Unusable, match=f"Harbour Lab: Days away: {say}"):
        request_of(form)


def test_rows_without_a_name_are_left_out() -> None:
    form = FormData(
        [("rolls 0 id", " "), ("rolls 0 gauge", "135"), ("rolls 4 id", "S9"), ("rolls 4 length_mm", "1,2")]
    )
    assert request_of(form)["rolls"] == [{"id": "S9", "length_mm": 1200.0}]


def test_every_day_of_a_plan_stands_in_the_calendar() -> None:
    found = plan(demo_request())
    entries = icalendar.Calendar.from_ical(calendar_of(found)).walk("VEVENT")
    assert [(e.decoded("dtstart"), str(e["description"])) for e in entries] == [
        (date.fromisoformat(a["on"]), a["why"]) for a in found["actions"]
    ]
    assert len({str(e["uid"]) for e in entries}) == len(entries)


def test_each_roll_has_a_lane_and_time_runs_to_the_right() -> None:
    given = demo_request()
    chart = plan_chart(given, plan(given), 900)
    assert chart is not None
    assert {lane["roll"] for lane in chart["lanes"]} == {"S01", "S02", "S03"}
    assert all(lane["from"] <= lane["on"] <= chart["width"] for lane in chart["lanes"])


def test_the_form_and_the_text_of_a_request_ask_the_same() -> None:
    given = demo_request()
    assert asked_for(request_of(filled(given))) == asked_for(given)
    turned = {**given, "labs": [{**lab, "gauges": lab["gauges"][::-1]} for lab in given["labs"]]}
    assert asked_for(turned) == asked_for(given)
    dearer = {**given, "session_cost": given["session_cost"] + 0.01}
    assert asked_for(dearer) != asked_for(given)
