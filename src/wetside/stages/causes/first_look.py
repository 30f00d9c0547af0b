"""The first ten minutes: a verdict's class, the questions the evidence leaves open, one test. Never a density from a JPEG."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from wetside.figures.finding import Unusable
from wetside.figures.reading import RollReading
from wetside.stages.causes.evidence import Evidence
from wetside.stages.causes.local import LOCAL
from wetside.stages.causes.model import Ranked, ranked_causes
from wetside.stages.causes.next_test import done, next_test


@dataclass(frozen=True, slots=True)
class Question:
    """One of the five questions; `id` is its key in an answers file."""

    id: str
    text: str
    choices: tuple[str, ...]

    def as_json(self) -> dict[str, Any]:
        return {"id": self.id, "text": self.text, "choices": list(self.choices)}


QUESTIONS: tuple[Question, ...] = (
    Question("seen on", "Do you see it on the negative itself, or only in the inverted picture?", ("the negative", "only the picture", "not looked")),
    Question("in unexposed film", "Is it in unexposed film too: leader, gaps, round the perforations?", ("yes", "no", "not looked")),
    Question("stays with", "Turn the film in the holder: does it stay with the frame, the film, or the scanner?", ("the frame", "the film", "the scanner", "not looked")),
    Question("repeats", "Where does it repeat: one end, one edge, every frame, at a steady distance, or nowhere?", ("one end", "one edge", "every frame", "steady distance", "nowhere", "not looked")),
    Question("same place in every roll", "Is it at the same place in other rolls from the same scanner?", ("yes", "no", "only one roll")),
)  # fmt: skip
BY_ID = {question.id: question for question in QUESTIONS}
WHERE_OF = {cause.name: cause.where for cause in LOCAL}


def judged_answers(answers: Mapping[str, Any] | None) -> dict[str, str]:
    """Answers checked against the questions; Unusable names what is allowed."""
    given = dict(answers or {})
    for name, choice in given.items():
        question = BY_ID.get(name)
        if question is None:
            raise Unusable(f"no question {name!r}; questions: {', '.join(BY_ID)}", "answers")
        if choice not in question.choices:
            raise Unusable(
                f"{name}: {choice!r} is not a choice; choices: {', '.join(question.choices)}", "answers"
            )
    return {name: str(choice) for name, choice in given.items()}


def first_look(reading: RollReading, answers: Mapping[str, str]) -> dict[str, Any]:
    """Questions still open, verdict and next test, from a reading and the answers so far."""
    marks = [mark.as_json() for frame in reading.frames for mark in frame.marks]
    evidence = Evidence(
        marks=tuple(marks), pattern=reading.pattern.answer, cast=reading.cast.as_json(), answers=dict(answers)
    )
    ranked = ranked_causes(evidence)
    return {
        "questions": [question.as_json() for question in open_questions(reading, answers, bool(marks))],
        "verdict": verdict(reading, ranked, answers, len(marks)),
        "next_test": next_test(ranked, done(evidence)),
    }


def open_questions(reading: RollReading, answers: Mapping[str, str], marks: bool) -> list[Question]:
    """Those not answered and not settled by the scans."""
    settled = set(answers)
    if reading.cast.found and reading.cast.anchor == "rebate":
        settled.add("in unexposed film")
    if reading.pattern.answer in ("one angle", "touching turns", "perforation", "frame"):
        settled.add("repeats")
    if not marks and not reading.cast.found:
        settled |= {"repeats"}
    return [question for question in QUESTIONS if question.id not in settled][:5]


def verdict(
    reading: RollReading, ranked: Sequence[Ranked], answers: Mapping[str, str], marks: int
) -> dict[str, str]:
    """Where the fault sits, whether it can be cured, and one sentence."""
    conflict = contradiction(reading, answers)
    if conflict:
        return {"where": "cannot say", "curable": "cannot say", "say": conflict}
    mixed = next((finding for finding in reading.findings if finding.id == "two-rolls"), None)
    if mixed is not None:
        return _said("cannot say", "cannot say", f"{mixed.say}; look at each by itself")
    shares: dict[str, float] = {}
    for cause in ranked:
        shares[WHERE_OF.get(cause.name, "")] = shares.get(WHERE_OF.get(cause.name, ""), 0.0) + cause.weight
    shares.pop("", None)
    total = sum(shares.values())
    if answers.get("stays with") == "the scanner":
        return _said(
            "scanner", "in correction", "it stays with the scanner: the light or the glass, not the film"
        )
    if answers.get("seen on") == "only the picture":
        return _said(
            "scanner",
            "in correction",
            "it is not on the negative: look at the conversion, not at the process",
        )
    if not marks and not reading.cast.found:
        return _said(
            "cannot say",
            "cannot say",
            "no mark and no shared cast stand out of these pictures; a whole-roll fault needs linear scans with the rebate",
        )
    if not reading.cast.found and reading.pattern.answer in ("cannot say", "scattered") and not told(answers):
        return _said(
            "cannot say",
            "cannot say",
            f"{_seen(marks, reading)}, without a repeat or an answer: too little to name an origin",
        )
    where, share = max(shares.items(), key=lambda entry: entry[1]) if shares else ("", 0.0)
    if not shares or share < 0.6 * total:
        return _said(
            "cannot say",
            "cannot say",
            f"{_seen(marks, reading)}; several origins fit: the questions would part them",
        )
    best = max((c for c in ranked if WHERE_OF.get(c.name) == where), key=lambda c: c.weight)
    return _said(where, best.curable, f"{_seen(marks, reading)}; likeliest in the {where}: {best.name}")


def _seen(marks: int, reading: RollReading) -> str:
    parts = [
        f"{marks} mark{'s' * (marks > 1)}" if marks else "",
        f"a cast ({reading.cast.kind})" if reading.cast.found else "",
    ]
    return " and ".join(part for part in parts if part)


def _said(where: str, curable: str, say: str) -> dict[str, str]:
    return {"where": where, "curable": curable, "say": say}


def contradiction(reading: RollReading, answers: Mapping[str, str]) -> str | None:
    """An answer that the film itself speaks against."""
    if answers.get("seen on") == "only the picture" and answers.get("in unexposed film") == "yes":
        return "two answers contradict each other: not on the negative, yet in unexposed film; look again with a loupe"
    if answers.get("in unexposed film") == "no" and reading.cast.anchor == "rebate" and reading.cast.found:
        return "the answer says it is not in unexposed film, but the rebate of these scans shows it"
    if answers.get("stays with") == "the film" and answers.get("same place in every roll") == "yes":
        return "two answers contradict each other: it stays with the film, yet lies at the same place in every roll"
    return None


def told(answers: Mapping[str, str]) -> bool:
    """Whether any answer says more than that nobody looked."""
    return any(choice not in ("not looked", "only one roll") for choice in answers.values())
