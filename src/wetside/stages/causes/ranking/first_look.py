"""The first ten minutes: a verdict's class, the questions the evidence leaves open, one test. Never a density from a JPEG."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from wetside.figures.finding import Finding, Unusable
from wetside.figures.reading import RollReading
from wetside.stages.causes.ranking.evidence import Evidence
from wetside.stages.causes.ranking.experiments import BY_NAME as EXPERIMENTS
from wetside.stages.causes.ranking.local import LOCAL
from wetside.stages.causes.ranking.model import Ranked, ranked_causes
from wetside.stages.causes.ranking.next_test import cheapest_test
from wetside.stages.causes.signs.same_place import at_one_place, marks_of
from wetside.stages.causes.signs.shown_beside import QUESTION, shown_in_unexposed


@dataclass(frozen=True, slots=True)
class Question:
    """One of the five questions; `id` is its key in an answers file."""

    id: str
    text: str
    choices: tuple[str, ...]

    def as_json(self) -> dict[str, Any]:
        return {"id": self.id, "text": self.text, "choices": list(self.choices)}


QUESTIONS: tuple[Question, ...] = (
    Question("seen on", "Hold the negative itself to a lamp: do you see it there, or only in the inverted picture?", ("the negative", "only the picture", "not looked")),
    Question("in unexposed film", "Is it in film that saw no light too: the leader, the gaps between pictures, round the perforations?", ("yes", "no", "not looked")),
    Question("stays with", "What does it stay with: the frame (at one place of every picture), the film (where it lay in the tank), or the scanner (turn the film half round and scan again: it stays where it was)?", ("the frame", "the film", "the scanner", "not looked")),
    Question("repeats", "Where does it come again: at one end of the roll, along one edge, in every frame, at a steady distance, or nowhere?", ("one end", "one edge", "every frame", "steady distance", "nowhere", "not looked")),
    Question("same place in every roll", "Do other rolls from the same scanner have it at the same place?", ("yes", "no", "only one roll")),
)  # fmt: skip
BY_ID = {question.id: question for question in QUESTIONS}
#: Patterns that name a repeat.
REPEATS = ("one angle", "touching turns", "perforation", "frame")
#: The next test where two rolls lie in one folder (minutes judged).
PARTED: dict[str, Any] = {
    "what": "put the scans of each roll into a folder of its own, and look at each", "minutes": 5,
    "tells": "what each of them shows; together they say nothing of either",
}  # fmt: skip
WHERE_OF = {cause.name: cause.where for cause in LOCAL}


def judged_answers(answers: Mapping[str, Any] | None) -> dict[str, str]:
    """Answers to questions, and outcomes of experiments, checked; Unusable names what is allowed."""
    given = dict(answers or {})
    for name, choice in given.items():
        choices = choices_of(name)
        if not choices:
            raise Unusable(f"no question {name!r}; questions: {', '.join((*BY_ID, *EXPERIMENTS))}", "answers")
        if choice not in choices:
            raise Unusable(f"{name}: {choice!r} is not a choice; choices: {', '.join(choices)}", "answers")
    return {name: str(choice) for name, choice in given.items()}


def choices_of(name: str) -> tuple[str, ...]:
    """What may be answered to a question, or how an experiment may come out; nothing for neither."""
    if name in BY_ID:
        return BY_ID[name].choices
    return tuple(one.answer for one in EXPERIMENTS[name].outcomes) if name in EXPERIMENTS else ()


def first_look(
    reading: RollReading, answers: Mapping[str, str], marks: Sequence[Mapping[str, Any]] | None = None
) -> dict[str, Any]:
    """Questions still open, verdict and next test, from a reading and what was answered and tried so far.

    `marks`: the marks as the user left them; those of the reading where no word was said on them.
    """
    if marks is None:
        marks = marks_of([frame.as_json() for frame in reading.frames])
    told = {name: choice for name, choice in answers.items() if name in BY_ID}
    evidence = Evidence(
        marks=tuple(marks), pattern=reading.pattern.answer, cast=reading.cast.as_json(), answers=told,
        tests={name: choice for name, choice in answers.items() if name not in BY_ID}, scans={"rung": reading.rung},
        frames=len(reading.frames) or None,
    )  # fmt: skip
    ranked = ranked_causes(evidence)
    return {
        "questions": [question.as_json() for question in open_questions(reading, told, marks)],
        "verdict": verdict(reading, ranked, evidence),
        "next_test": PARTED if _mixed(reading) else cheapest_test(evidence, ranked),
    }


def open_questions(
    reading: RollReading, answers: Mapping[str, str], marks: Sequence[Mapping[str, Any]]
) -> list[Question]:
    """Those not answered and not settled by the scans."""
    settled = set(answers)
    if (reading.cast.found and reading.cast.anchor == "rebate") or shown_in_unexposed(marks) is not None:
        settled.add(QUESTION)
    if reading.pattern.answer in REPEATS or at_one_place(marks):
        settled.add("repeats")
    if not marks and not reading.cast.found:
        settled |= {"repeats"}
    return [question for question in QUESTIONS if question.id not in settled][:5]


def verdict(reading: RollReading, ranked: Sequence[Ranked], evidence: Evidence) -> dict[str, str]:
    """Where the fault sits, whether it can be cured, and one sentence."""
    refused = no_verdict(reading, evidence)
    if refused:
        return _said("cannot say", "cannot say", refused)
    answers, seen = evidence.answers, _seen(len(evidence.marks), reading)
    if answers.get("stays with") == "the scanner":
        return _said("scanner", "in correction", "it stays with the scanner: the light or the glass, not the film")  # fmt: skip
    if answers.get("seen on") == "only the picture":
        return _said("scanner", "in correction", "it is not on the negative: look at the conversion, not at the process")  # fmt: skip
    if not seen:
        return _said("cannot say", "cannot say", nothing_found(reading, evidence))
    repeats = reading.pattern.answer in REPEATS or at_one_place(evidence.marks)
    if not (reading.cast.found or repeats or evidence.answered or evidence.tests):
        return _said("cannot say", "cannot say", f"{seen}, without a repeat or an answer: too little to name an origin")  # fmt: skip
    shares: dict[str, float] = {}
    for cause in ranked:
        if cause.name in WHERE_OF:
            shares[WHERE_OF[cause.name]] = shares.get(WHERE_OF[cause.name], 0.0) + cause.weight
    where, share = max(shares.items(), key=lambda entry: entry[1]) if shares else ("", 0.0)
    if not shares or share < 0.6 * sum(shares.values()):
        return _said(
            "cannot say", "cannot say", f"{seen}; several origins fit: the questions would part them"
        )
    best = max((c for c in ranked if WHERE_OF.get(c.name) == where), key=lambda c: c.weight)
    return _said(where, best.curable, f"{seen}; likeliest in the {where}: {best.name}")


def no_verdict(reading: RollReading, evidence: Evidence) -> str:
    """Why nothing may be concluded: answers that contradict, or two rolls in one folder; empty as a rule."""
    mixed = _mixed(reading)
    conflict = contradiction(reading, evidence.answers, evidence.marks)
    return conflict or (f"{mixed.say}; look at each by itself" if mixed else "")


def _mixed(reading: RollReading) -> Finding | None:
    """The finding that two rolls lie in one folder."""
    return next((finding for finding in reading.findings if finding.id == "two-rolls"), None)


def nothing_found(reading: RollReading, evidence: Evidence) -> str:
    """What to say where no mark and no cast was found."""
    none = "no mark and no shared cast stand out of these pictures"
    if evidence.answered:
        return f"{none}: what you see was not found by the search; draw it on its picture, and it counts"
    if reading.rung >= 2:
        return f"{none}; whether the whole roll came out right, only figures of a good roll or a control strip can say"  # fmt: skip
    return f"{none}; a fault of the whole roll needs linear scans with the rebate in view"


def _seen(marks: int, reading: RollReading) -> str:
    parts = [
        f"{marks} mark{'s' * (marks > 1)}" if marks else "",
        f"a cast ({reading.cast.kind})" if reading.cast.found else "",
    ]
    return " and ".join(part for part in parts if part)


def _said(where: str, curable: str, say: str) -> dict[str, str]:
    return {"where": where, "curable": curable, "say": say}


def contradiction(
    reading: RollReading, answers: Mapping[str, str], marks: Sequence[Mapping[str, Any]]
) -> str | None:
    """An answer that the film itself speaks against."""
    if answers.get("seen on") == "only the picture" and answers.get("in unexposed film") == "yes":
        return "two answers contradict each other: not on the negative, yet in unexposed film; look again with a loupe"
    if answers.get("in unexposed film") == "no" and reading.cast.anchor == "rebate" and reading.cast.found:
        return "the answer says it is not in unexposed film, but the rebate of these scans shows it"
    if answers.get(QUESTION) == "no" and shown_in_unexposed(marks):
        return "the answer says it is not in unexposed film, but the film beside the pictures shows marks: look again at those outlined there"
    if answers.get("stays with") == "the film" and answers.get("same place in every roll") == "yes":
        return "two answers contradict each other: it stays with the film, yet lies at the same place in every roll"
    return None
