"""Causes, comparison, experiments, verdicts and the reel from lines of a book alone; the two confirmed investigations too."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from wetside.app.faults.causes import (
    causes_of_run,
    evidence_of,
    experiments,
    note_halves,
    note_outcome,
)
from wetside.app.faults.compare import compare
from wetside.app.faults.reel import marks_on_reel
from wetside.app.faults.told import told_of_book
from wetside.app.viewing.verdicts import spans, verdicts_at, verdicts_for
from wetside.book.kinds import (
    BathMixed,
    Body,
    GearNoted,
    Judged,
    Measured,
    ReelOwned,
    RollLoaded,
    RunEvent,
    RunStarted,
    ScanAttached,
    StockNoted,
)
from wetside.figures.finding import Unusable
from wetside.figures.place import Rectangle
from wetside.laws.reel.spiral import TURN, length_to_angle
from wetside.stages.causes.signs.verdicts import with_verdicts
from wetside.store.ledger import Ledger

MARK = {
    "x": 10,
    "y": 10,
    "w": 20,
    "h": 20,
    "film_mm": 100.0,
    "across": 0.2,
    "delta": {"r": 0.2, "g": 0.2, "b": 0.2},
    "edge": "sharp",
    "kind": "spot",
}
PATTERN = {"answer": "cannot say", "marks": 1, "p": None, "reason": "1 mark", "would_help": "", "fit": None}


def reading(*marks: dict) -> dict:
    return {"schema": "wetside.read/1", "frames": [{"file": "1.tif", "picture": {"x": 0, "y": 0, "w": 100, "h": 100}, "marks": list(marks)}],
            "pattern": PATTERN, "cast": {"found": False}, "geometry": {"frame_pitch_mm": 38.0, "px_per_mm": 10.0}}  # fmt: skip


def book_of(home: Path, *bodies: Body) -> Path:
    with Ledger.open(home) as book:
        for day, body in enumerate(bodies, book.count()):
            book.append(body, happened_at=1.77e9 + 86400 * day)
    return home


def roll(name: str) -> RollLoaded:
    return RollLoaded(roll=name, stock="DAY90", gauge="135", length_mm=700.0)


def run(name: str, *rolls: str, **baths: str) -> RunStarted:
    entries = tuple({"roll": r, "reel": "A", "core": "head"} for r in rolls)
    return RunStarted(run=name, process="ecn-2", tank="T", rolls=entries, baths=baths)


def judged(name: str, answer: str) -> Judged:
    return Judged(roll=name, about="frame", subject="roll", answer=answer)


@pytest.mark.published(
    source="common-practice",
    place="handbook of film, 3, first confirmed investigation: patchy cyan on several days, fresh developer each time: the fixer",
)
def test_patchy_cyan_in_leader_and_trailer_over_several_days_is_traced_to_the_fixer(tmp_path: Path) -> None:
    bodies: list[Body] = [BathMixed(bath=f, role="fixer", volume_ml=1000.0) for f in ("fixer 1", "fixer 2")]
    for i in range(
        12
    ):  # one roll a day or so, each in fresh developer; the fixer was changed after the fifth
        name, fixer = f"R{i}", "fixer 1" if i < 5 else "fixer 2"
        bodies += [
            BathMixed(bath=f"dev {i}", role="developer", volume_ml=600.0),
            roll(name),
            run(f"run {i}", name, developer=f"dev {i}", stop="stop", bleach="bleach", fixer=fixer),
            judged(name, "bad" if i < 5 else "good"),
        ]
        if i < 5:
            seen = {"seen on": "the negative", "in unexposed film": "yes", "stays with": "the film"}
            bodies += [Judged(roll=name, about="question", subject=q, answer=a) for q, a in seen.items()]
    found = causes_of_run(book_of(tmp_path, *bodies), "R0")
    shared = found["company"][0]
    assert (shared["things"], shared["with_bad"], shared["with_good"]) == (["bath:fixer 1"], 1.0, 0.0)
    assert shared["p"] < 0.01  # 2 of the 792 ways to deal five bad verdicts part any bottle so
    first = found["causes"][0]
    assert first["cause"] == "weak fixer: retained halide" and first["by"] == ["company"]
    assert any("share fixer 1" in why for why in first["for"])
    assert found["next_test"]["what"] == "fix one frame again, and scan it again"
    assert "re-fix one frame" in [one["name"] for one in experiments(tmp_path, "R0")]
    good = causes_of_run(tmp_path, "R7")["causes"]
    assert good[0]["cause"] == "nothing is wrong" and not any("share" in w for c in good for w in c["for"])
    note_outcome(tmp_path, "R0", "re-fix one frame", "changed")
    cured = causes_of_run(tmp_path, "R0")
    assert cured["causes"][0]["how"] == "likely" and cured["causes"][0]["curable"] == "tonight"
    assert not cured["next_test"]["what"].startswith("fix one frame again")


@pytest.mark.published(
    source="common-practice",
    place="handbook of film, 3, second confirmed investigation: the same cast in the same place on all 15 rolls: the light under the negative",
)
def test_one_cast_in_one_place_on_fifteen_rolls_is_traced_to_the_light(tmp_path: Path) -> None:
    bodies: list[Body] = [GearNoted(gear_kind="light", name="tablet")]
    for i in range(15):  # baths fresh for each roll: only the stand, its light and the tank stay
        name = f"R{i}"
        bodies += [
            roll(name),
            ScanAttached(roll=name, file="1.tif", sha256=f"{i}", light="tablet", scanner="stand"),
            run(f"run {i}", name, developer=f"dev {i}", fixer=f"fix {i}"),
            judged(name, "bad"),
            Judged(roll=name, about="question", subject="same place in every roll", answer="yes"),
        ]
    found = causes_of_run(book_of(tmp_path, *bodies), "R3")
    assert found["causes"][0]["cause"] == "light under the negative"
    assert "light:tablet" in found["company"][0]["things"]
    assert found["next_test"]["what"] == "scan the light without film, same exposure"
    turned = note_outcome(tmp_path, "R3", "turn a frame by 180°", "stayed in place")
    assert turned and causes_of_run(tmp_path, "R3")["causes"][0]["how"] == "likely"


def test_two_runs_are_compared_and_an_unknown_one_is_one_line(tmp_path: Path) -> None:
    warm = RunEvent(run="run 1", event="temperature", fields={"celsius": 41.1, "step": "developer"})
    cold = RunEvent(run="run 2", event="temperature", fields={"celsius": 39.0, "step": "developer"})
    home = book_of(
        tmp_path,
        roll("R1"),
        roll("R2"),
        run("run 1", "R1", fixer="F"),
        run("run 2", "R2", fixer="F"),
        warm,
        cold,
    )
    found = compare(home, "R1", "R2")
    assert found["differences"][0]["what"] == "developer, °C" and found["differences"][0]["effect_d"] < -0.1
    assert "fixer bottle" in found["alike"] and found["say"].startswith("developer, °C")
    with pytest.raises(Unusable, match="no run or roll 'R9'"):
        compare(home, "R1", "R9")


def test_an_outcome_counts_and_one_that_is_none_is_refused(tmp_path: Path) -> None:
    up = (
        {"r": 0.02, "g": 0.02, "b": 0.02},
        {"r": 0.09, "g": 0.09, "b": 0.09},
        {"r": 0.15, "g": 0.15, "b": 0.15},
    )
    result = {"schema": "wetside.departures/1", **dict(zip(("dmin", "ld", "hd_ld"), up))}
    home = book_of(tmp_path, roll("R1"), Measured(roll="R1", what="departures", result=result))
    note_outcome(home, "R1", "re-bleach one frame", "changed")
    first = causes_of_run(home, "R1")["causes"][0]
    assert first["cause"] == "weak bleach: retained silver"
    assert any(say.startswith("test: re-bleach one frame: changed (line ") for say in first["for"])
    assert (
        next(e for e in experiments(home, "R1") if e["name"] == "re-bleach one frame")["came_out"]
        == "changed"
    )
    eight = ",".join(f"{0.8 + 0.01 * i}:{0.87 + 0.01 * i + 0.004 * (i % 3)}" for i in range(8))
    assert note_halves(home, "R1", "split roll: two fixers", eight).startswith(
        "halves differ: the halves differ by +0.07"
    )
    for wrong in ("0.8:0.9", "x", "0.8", "9:9,9:9"):
        with pytest.raises(Unusable):
            note_halves(home, "R1", "split roll: two fixers", wrong)
    with pytest.raises(Unusable, match="outcomes: changed, same"):
        note_outcome(home, "R1", "re-bleach one frame", "perhaps")
    with pytest.raises(Unusable, match="there are: re-bleach"):
        note_outcome(home, "R1", "prayer", "same")


def test_verdicts_take_marks_away_bring_them_in_and_the_last_word_counts(tmp_path: Path) -> None:
    def word(answer: str, x: int = 10, mark: dict | None = None) -> Judged:
        fields = {"file": "1.tif", "x": x, "y": 10, "w": 20, "h": 20, **({"mark": mark} if mark else {})}
        return Judged(roll="R1", about="mark", subject=f"1.tif {x}", answer=answer, fields=fields)

    home = book_of(
        tmp_path, roll("R1"), Measured(roll="R1", what="read", result=reading(MARK)), word("not one")
    )
    assert not with_verdicts(reading(MARK), verdicts_at(home, "R1"))["frames"][0]["marks"]
    assert not any(c["cause"] == "air bells in the developer" for c in causes_of_run(home, "R1")["causes"])
    book_of(home, word("confirmed"), word("drawn", 60, {**MARK, "kind": "drawn"}))
    left = with_verdicts(reading(MARK), verdicts_at(home, "R1"))["frames"][0]["marks"]
    assert [(m["x"], m["verdict"]) for m in left] == [(10, "confirmed"), (60, "drawn")]
    assert any(c["cause"] == "air bells in the developer" for c in causes_of_run(home, "R1")["causes"])
    (home / "scans" / "R1").mkdir(parents=True)
    assert verdicts_for(home, home / "scans" / "R1") and not verdicts_for(home, tmp_path)


@pytest.mark.independent(how="boxes by hand against a picture 400 px tall")
def test_a_mark_over_the_whole_height_of_its_picture_is_a_band() -> None:
    read = {"frames": [{"file": "1.tif", "picture": {"x": 10, "y": 20, "w": 600, "h": 400}}]}
    assert spans(read, "1.tif", Rectangle(50, 20, 30, 380))
    assert not spans(read, "1.tif", Rectangle(50, 20, 30, 300))
    assert not spans(read, "2.tif", Rectangle(50, 20, 30, 380)) and not spans(
        None, "1.tif", Rectangle(0, 0, 9, 999)
    )


def test_few_marks_are_not_drawn_on_a_reel_and_many_are_on_the_one_that_was_used(tmp_path: Path) -> None:
    used = ReelOwned(reel="A", gauge="135", inner_radius_mm=20.0, pitch_mm=2.85)
    home = book_of(
        tmp_path, used, roll("R1"), run("run 1", "R1"), Measured(roll="R1", what="read", result=reading(MARK))
    )
    few = marks_on_reel(home, "R1")
    assert few and not few["drawn"] and few["places"] == [100.0]
    many = [{**MARK, "x": 10 * i, "film_mm": 60.0 + 50 * i} for i in range(9)]
    book_of(home, Measured(roll="R1", what="read", result=reading(*many)))
    found = marks_on_reel(home, "R1")
    assert found and found["drawn"] and found["radius_pitch"] == (20.0, 2.85) and found["reel"] == "A"
    assert marks_on_reel(book_of(tmp_path / "other", roll("R5")), "R5") is None


@pytest.mark.independent(
    how="places computed forwards from one angle of the reel that the book notes, each drawn by hand"
)
def test_twelve_marks_drawn_by_hand_at_one_angle_are_seen_to_lie_there(tmp_path: Path) -> None:
    frames = [
        {"file": f"{i}.tif", "picture": {"x": 0, "y": 0, "w": 360, "h": 240}, "marks": []} for i in range(36)
    ]
    read = {**reading(), "frames": frames}
    used = ReelOwned(reel="A", gauge="135", inner_radius_mm=10.0, pitch_mm=2.6)
    home = book_of(
        tmp_path, used, roll("R1"), run("run 1", "R1"), Measured(roll="R1", what="read", result=read)
    )
    rng = np.random.default_rng(4)
    turns = [float(length_to_angle(2.0 + TURN * t + rng.normal(0, 0.2), 10.3, 2.6)) for t in range(12)]
    drawn = []
    for i, place in enumerate(p for p in turns if 0 < p < 1360):
        fields = {
            "file": f"{int(place // 38)}.tif",
            "x": 10 * i,
            "y": 10,
            "w": 20,
            "h": 20,
            "mark": {**MARK, "film_mm": place},
        }
        drawn.append(Judged(roll="R1", about="mark", subject=f"{i}", answer="drawn", fields=fields))
    book_of(home, *drawn)
    found = marks_on_reel(home, "R1")
    assert found and found["drawn"] and found["fitted"] and found["pattern"]["answer"] == "one angle"
    splash = next(c for c in causes_of_run(home, "R1")["causes"] if c["cause"] == "splash or slow pour")
    assert "they repeat: one angle (common-practice)" in splash["for"]
    book_of(
        home,
        *(
            Judged(roll="R1", about="mark", subject=d.subject, answer="not one", fields=d.fields)
            for d in drawn[3:]
        ),
    )
    left = marks_on_reel(home, "R1")
    assert left and not left["drawn"] and left["pattern"]["answer"] == "cannot say"


def test_rectangles_of_a_mark_and_its_word_need_not_be_the_same() -> None:
    from wetside.stages.causes.signs.verdicts import Verdict

    near, far = (
        Verdict("1.tif", Rectangle(13, 12, 20, 20), "not one"),
        Verdict("1.tif", Rectangle(25, 25, 20, 20), "not one"),
    )
    assert not with_verdicts(reading(MARK), [near])["frames"][0]["marks"]
    assert with_verdicts(reading(MARK), [far])["frames"][0]["marks"]


@pytest.mark.independent(how="years counted by hand from the date on the can, and two more before it")
def test_the_date_on_the_can_tells_the_films_age_and_a_run_without_baths_nothing_of_its_stop(
    tmp_path: Path,
) -> None:
    can = StockNoted(stock="DAY90", expires_on="2014-01-01")
    home = book_of(
        tmp_path, can, roll("R1"), run("run 1", "R1")
    )  # processed in the first days of February 2026
    lines, runs = told_of_book(home, "run 1")
    log = evidence_of(lines, "run 1", runs).log
    assert log["film_age_years"] == pytest.approx(14.1, abs=0.05)
    assert "stop_bath_used" not in log
    old = next(c for c in causes_of_run(home, "run 1")["causes"] if c["cause"] == "old stock")
    assert any("the film is 14 years old" in why for why in old["for"])
    book_of(home, roll("R2"), run("run 2", "R2", developer="D", fixer="F"))
    lines, runs = told_of_book(home, "run 2")
    assert evidence_of(lines, "run 2", runs).log["stop_bath_used"] is False
