"""The picture of signs: what is measured beside what a cause would do, and when a density says nothing."""

from __future__ import annotations

import pytest

from wetside.figures.sources import named_in, sources
from wetside.laws.sensitometry.faults import BY_NAME
from wetside.stages.causes.ranking.model import signs_of
from wetside.web.pages import lined
from wetside.web.signs_chart import expected_chart, seen_chart, verdict

SEEN = {"dmin": (0.0, 0.01, None), "ld": (-0.12, -0.11, -0.1), "hd_ld": (-0.2, -0.18, 0.2)}


def test_a_bar_grows_from_the_middle_in_the_direction_of_its_sign() -> None:
    chart = seen_chart(SEEN, 0.05)
    assert chart is not None
    thin, dense = chart["bars"][6], chart["bars"][8]
    assert thin["y"] == chart["middle"] and dense["y"] + dense["h"] == pytest.approx(chart["middle"])
    assert thin["h"] == dense["h"] == max(bar["h"] for bar in chart["bars"])
    assert chart["bars"][2]["value"] is None
    assert seen_chart({"ld": (None, None, None)}, 0.05) is None


def test_a_cause_agrees_speaks_against_or_is_silent() -> None:
    cold = signs_of("developer cold or short")
    assert cold is not None
    said = [bar["says"] for bar in expected_chart(cold, SEEN, 0.05)]
    assert said == ["silent"] * 3 + ["agrees"] * 3 + ["agrees", "agrees", "against"]
    assert verdict(0.0, 0.2, 0.05) == "against" and verdict(0.0, 0.08, 0.05) == "silent"
    assert signs_of("splash or slow pour") is None and len(BY_NAME) > 10


def test_a_source_that_is_named_leads_to_its_title_and_other_brackets_stay_as_they_are() -> None:
    said = lined("LD r +0.08 (tg2044-1), a cast (light), taken (line demo-048)")
    assert '<a href="#source-tg2044-1">tg2044-1</a>' in said and "(light)" in said
    assert [one.id for one in named_in(["b (h-24-08)", "a (14209) (h-24-08)", "(none-such)"])] == [
        "14209",
        "h-24-08",
    ]
    assert all(fault.source in sources() for fault in BY_NAME.values())


def test_a_line_that_is_named_leads_to_it_and_words_stay_words() -> None:
    assert '<a href="/ink/line/demo-048">line demo-048</a>' in lined("before (line demo-048)")
    assert "<b>" not in lined("<b>bold</b> (line a<b)")
