"""The plan against brute force, a worked example, and odd requests."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from benchmarks.plans import request as half_year
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.stages.planning import compact

from wetside.app.planning.plan import plan
from wetside.figures.finding import Unusable
from wetside.stages.planning.mixes import Table
from wetside.stages.planning.model import solved, sum_of_shares
from wetside.stages.planning.pays import pays
from wetside.stages.planning.problem import Problem, classes_of, problem_of
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


@pytest.mark.independent(how="the same request as one mixed-integer program, whatever it takes")
@pytest.mark.parametrize("seed", (0, 1, 2, 4))
def test_the_quick_search_is_as_cheap_as_the_plain_program(seed: int) -> None:
    given = request_from(half_year(seed, rolls=7, days=70))
    plain, quick = compact.solved(given), solved(given, 60.0)
    assert max(plain.mixes.values(), default=0) <= 1, (
        "mixes of one day would share their area in the plain program"
    )
    assert quick.cost == pytest.approx(plain.cost) and quick.bound == quick.cost
    assert plain.bound == pytest.approx(plain.cost)


@pytest.mark.independent(how="the linear bound of the plain program, below every plan")
def test_many_unlike_rolls_are_planned_whole_within_a_true_bound() -> None:
    given = request_from(half_year(0, rolls=20, days=110))
    found, classes = solved(given, 20.0), classes_of(given.rolls)
    least = compact.least(given, classes)
    assert sum(n for _, n in found.ways) == 20 and not found.left_out
    assert least < found.bound <= found.cost < 1.3 * least


def test_a_plan_cut_off_has_a_true_bound() -> None:
    given = request_from(half_year(1, rolls=8, days=70))
    proved, cut = solved(given, 60.0), solved(given, 0.01)
    assert cut.bound <= proved.cost + 1e-6 <= cut.cost + 2e-6
    assert sum(n for _, n in cut.ways) == 8, "every roll goes somewhere"


@pytest.mark.independent(how="the proved cost of the same request")
@pytest.mark.parametrize("seed", range(4))
def test_the_sum_of_shares_is_a_true_bound_and_no_trivial_one(seed: int) -> None:
    given = request_from(half_year(seed, rolls=6, days=60))
    proved = solved(given, 60.0)
    least = sum_of_shares(problem_of(given)[0])
    assert 0.3 * proved.cost < least <= proved.cost + 1e-6


@pytest.mark.independent(how="every set of rolls on every mixing day, its loads by every grouping")
@pytest.mark.parametrize("seed", range(4))
def test_every_mix_within_the_gap_is_listed_and_no_other(seed: int) -> None:
    problem = crowded(seed)
    chance = np.random.default_rng(seed)
    worth = chance.uniform(2.0, 22.0, len(problem.rolls))
    for kit in range(len(problem.request.kits)):
        table = Table(problem, kit, worth, problem.request.kits[kit].price)
        listed = {mix.rolls: mix.cost for mix in table.within(6.0)}
        every = {
            s: cost
            for s in subsets(len(problem.rolls))
            if (cost := cheapest_use(problem, kit, s)) - worth[list(s)].sum() <= 6.0
        }
        assert listed.keys() == every.keys() and listed
        assert all(listed[s] == pytest.approx(every[s]) for s in every)
        best = max(worth[list(s)].sum() - cheapest_use(problem, kit, s) for s in subsets(len(problem.rolls)))
        assert table.best_gains.max() >= best - 1e-9, "never too small"


def crowded(seed: int) -> Problem:
    """Seven rolls of a fortnight, due days among them, so that loads may have to cross."""
    chance = np.random.default_rng(100 + seed)
    rolls = []
    for i, ready in enumerate(sorted(chance.integers(0, 14, 7))):
        due = {"due_on": f"2026-03-{int(ready) + 2 + int(chance.integers(0, 8)):02d}"} if i % 2 else {}
        rolls.append(
            roll(f"R{i}", length_mm=900 + 100 * i, exposed_on=f"2026-03-{1 + int(ready):02d}", **due)
        )
    kits = [
        {"id": "K", "process": "ecn-2", "price": 9, "area_m2": 0.15, "life_days": 9},
        {"id": "P", "process": "ecn-2", "price": 7, "area_m2": 0.2, "life_days": 6, "sessions": 2},
    ]
    around = request(
        rolls,
        kits=kits,
        tanks=[{"id": "T", "reels": 2 + seed % 2}],
        session_cost=3,
        waiting_cost_per_roll_day=0.4,
    )
    return problem_of(request_from(around))[0]


def subsets(n: int) -> list[tuple[int, ...]]:
    return [s for size in range(1, n + 1) for s in itertools.combinations(range(n), size)]


def cheapest_use(problem: Problem, kit: int, rolls: tuple[int, ...]) -> float:
    """The least cost of one mix for these rolls: every grouping into loads, each load on its latest roll's day."""
    request_, there = problem.request, problem.request.kits[kit]
    if problem.area[list(rolls)].sum() > there.area_m2:
        return float("inf")
    best = float("inf")
    for mixed in problem.days:
        for loads in groupings(list(rolls)):
            if len(loads) > (there.sessions or 99) or max(map(len, loads)) > request_.reels:
                continue
            days = [max(mixed, *(problem.ready[i] for i in load)) for load in loads]
            if all(
                day <= min(problem.last[i], mixed + there.life_days)
                for day, load in zip(days, loads)
                for i in load
            ):
                waits = sum(day - problem.ready[i] for day, load in zip(days, loads) for i in load)
                best = min(best, there.price + 3 * len(loads) + 0.4 * waits)
    return best


def groupings(rolls: list[int]) -> list[list[list[int]]]:
    if not rolls:
        return [[]]
    first, found = rolls[0], []
    for rest in groupings(rolls[1:]):
        found.append([[first], *rest])
        found += [[*rest[:n], [first, *load], *rest[n + 1 :]] for n, load in enumerate(rest)]
    return found


def test_rolls_that_only_a_bath_on_the_shelf_can_do_and_that_do_not_fit_are_left_and_named() -> None:
    bath = {"id": "B", "process": "ecn-2", "area_m2": 0.12, "life_days": 20}
    found = plan(request([roll(f"R{i}") for i in range(3)], baths=[bath], tanks=TANK))
    done = [a["rolls"] for a in found["actions"] if a["do"] == "process"]
    assert sum(map(len, done)) == 2, "two of 0.0567 m² fit"
    assert [a["rolls"] for a in found["actions"] if a["do"] == "wait"][-1:] != [], "the third is named"
