"""The plan against brute force, a worked example, and odd requests."""

from __future__ import annotations

import itertools

import pytest
from benchmarks.plans import request as half_year
from hypothesis import given, settings
from hypothesis import strategies as st

from wetside.app.plan import plan
from wetside.figures.finding import Unusable
from wetside.stages.planning.model import classes_of, grid_of, solved, sum_of_shares, ways_of
from wetside.stages.planning.pays import pays
from wetside.stages.planning.request import request_from


def request(rolls: list[dict], **more) -> dict:
    return {"today": "2026-03-01", "horizon_days": 100, "rolls": rolls, **more}


def roll(name: str, **more) -> dict:
    return {
        "id": name,
        "gauge": "135",
        "length_mm": 1622,
        "process": "ecn-2",
        "backing": "none",
        "exposed_on": "2026-03-01",
        **more,
    }


LAB = {
    "id": "L",
    "gauges": ["135"],
    "processes": ["ecn-2"],
    "takes_backing": True,
    "price_per_roll": 14,
    "per_parcel": 16,
    "parcel_rolls": 10,
    "days": 10,
}
KIT = {"id": "K", "process": "ecn-2", "price": 62, "area_m2": 5.0, "life_days": 20}
TANK = [{"id": "T", "volume_ml": 500, "reels": 1}]


@pytest.mark.independent(
    how="a worked example of costs: kit 45 + post 12 + waste 5, 0.8 a roll, against 14 a roll + 16 a parcel"
)
def test_home_pays_from_four_rolls() -> None:
    around = request([roll("R0")], kits=[KIT], labs=[LAB], tanks=TANK, session_cost=0.8)
    (one,) = pays(request_from(around))
    assert one.rolls == 4, "(62 − 16) / (14 − 0.8) = 3.48"
    dear = {**around, "kits": [{**KIT, "area_m2": 0.17}]}
    assert pays(request_from(dear))[0].rolls is None, "it holds three"
    for count, at_home in ((3, False), (4, True)):
        found = plan(
            request(
                [roll(f"R{i}") for i in range(count)], kits=[KIT], labs=[LAB], tanks=TANK, session_cost=0.8
            )
        )
        assert any(a["do"] == "mix" for a in found["actions"]) == at_home
        assert found["cost"] == found["bound"]
        assert found["cost"] == pytest.approx(62 + 0.8 * count if at_home else 16 + 14 * count)


@pytest.mark.independent(
    how="every assignment of up to 4 rolls to home, either laboratory, on every day a roll is ready"
)
@settings(max_examples=12, deadline=None)
@given(
    st.lists(st.integers(0, 12), min_size=1, max_size=4), st.integers(10, 60), st.integers(5, 20), st.integers(0, 20),
    st.sampled_from([0.0, 0.5, 2.0]), st.integers(1, 2),
)  # fmt: skip
def test_the_plan_is_as_cheap_as_brute_force(
    ready: list[int], price: int, each: int, parcel: int, waiting: float, reels: int
) -> None:
    kit = {**KIT, "price": price, "life_days": 5, "area_m2": 0.12}
    lab = {**LAB, "price_per_roll": each, "per_parcel": parcel, "parcel_rolls": 2}
    rolls = [roll(f"R{i}", exposed_on=f"2026-03-{1 + d:02d}") for i, d in enumerate(ready)]
    found = plan(
        request(
            rolls,
            kits=[kit],
            labs=[lab],
            tanks=[{"id": "T", "reels": reels}],
            session_cost=3,
            waiting_cost_per_roll_day=waiting,
        )
    )
    done = [a["on"] for a in found["actions"] if a["do"] == "process"]
    mixed = [a["on"] for a in found["actions"] if a["do"] == "mix"]
    assert min(mixed, default="") == min(done, default=""), "nothing is mixed before it is used"
    assert found["cost"] == pytest.approx(brute_force(ready, price, each, parcel, waiting, reels), abs=1e-6)


def brute_force(ready: list[int], price: int, each: int, parcel: int, waiting: float, reels: int) -> float:
    """Cheapest of all ways; a roll takes 0.0567 m², so a kit of 0.12 m² does two."""
    days = sorted({*ready, 0})
    best = float("inf")
    ways = [[("lab", d) for d in days if d >= r] + [("home", d) for d in days if d >= r] for r in ready]
    for choice in itertools.product(*ways):
        cost = sum(waiting * (d - r + (10 if where == "lab" else 0)) for (where, d), r in zip(choice, ready))
        for d in days:
            sent = sum(c == ("lab", d) for c in choice)
            cost += sent * each + -(-sent // 2) * parcel
        home = [d for where, d in choice if where == "home"]
        best = min(best, cost + home_cost(sorted(home), price, reels))
    return best


def home_cost(home: list[int], price: int, reels: int) -> float:
    """Cheapest kits (two rolls each, all within five days of the first) and sessions for days of home processing."""
    if not home:
        return 0.0
    first, rest = home[0], home[1:]
    best = price + 3 + home_cost(rest, price, reels)
    for i, other in enumerate(rest):
        if other - first <= 5:
            sessions = 1 if other == first and reels >= 2 else 2
            best = min(best, price + 3 * sessions + home_cost(rest[:i] + rest[i + 1 :], price, reels))
    return best


def test_a_roll_that_no_way_can_serve_is_named() -> None:
    found = plan(request([roll("A", gauge="110", due_on="2026-03-02")], labs=[LAB]))
    assert found["actions"][0]["rolls"] == ["A"] and "would help" in found["actions"][0]["why"]


def test_a_clip_comes_before_an_irreplaceable_roll() -> None:
    found = plan(request([roll("A", worth=500)], kits=[KIT], tanks=TANK, clip_cost=4))
    assert [a["do"] for a in found["actions"]] == ["mix", "clip first", "process"]


@pytest.mark.parametrize("bad", [
    {}, {"today": "yesterday"}, request([roll("A"), roll("A")]), request([roll("A", gauge="120")]), request([roll("A", length_mm=-1)]),
    request([roll("A", process="b&w")]), request([roll("A")], kits=[{"id": "K"}]), request([roll("A")], labs=[{"id": "L"}]), request("x"), {"today": "2026-01-01", "horizon_days": 0},
])  # fmt: skip
def test_odd_requests_are_one_line(bad: object) -> None:
    with pytest.raises(Unusable) as slip:
        plan(bad)  # type: ignore[arg-type]
    assert "\n" not in slip.value.what


@pytest.mark.independent(how="the rough grids' plan and the whole grid's, proved, of the same request")
@pytest.mark.parametrize("seed", (0, 1))
def test_rough_grids_first_change_neither_cost_nor_proof(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    given = request_from(half_year(seed, rolls=5, days=70))
    at_once = solved(given, 60.0)
    monkeypatch.setattr("wetside.stages.planning.model.LARGE", 0)
    by_grids = solved(given, 60.0)
    assert by_grids.cost == pytest.approx(at_once.cost) == pytest.approx(by_grids.bound)


def test_a_plan_cut_off_keeps_the_best_of_the_rough_grids_and_a_true_bound(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    given = request_from(half_year(1, rolls=5, days=70))
    proved = solved(given, 60.0)
    monkeypatch.setattr("wetside.stages.planning.model.LARGE", 0)
    monkeypatch.setattr("wetside.stages.planning.model.ROUGH", ((28, 1.0),))
    cut = solved(given, 20.0)
    assert cut.bound <= proved.cost + 1e-6 <= cut.cost + 2e-6


@pytest.mark.independent(how="the proved cost of the same request")
@pytest.mark.parametrize("seed", range(4))
def test_the_sum_of_shares_is_a_true_bound_and_no_trivial_one(seed: int) -> None:
    given = request_from(half_year(seed, rolls=6, days=60))
    classes = classes_of(given.rolls)
    proved = solved(given, 60.0)
    least = sum_of_shares(given, classes, ways_of(given, classes, grid_of(classes)))
    assert 0.3 * proved.cost < least <= proved.cost + 1e-6
