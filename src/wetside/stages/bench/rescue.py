"""What to do now when something goes wrong, and what it may cost: one sentence each, with its source."""

from __future__ import annotations

from dataclasses import asdict, dataclass


@dataclass(frozen=True, slots=True)
class Rescue:
    """Advice for one trouble in one bath."""

    now: str
    cost: str
    curable: str  # "tonight" | "in correction" | "lost" | "nothing lost" | "cannot say"
    source: str


#: trouble → role of the bath ("" for any other) → advice.
TROUBLES: dict[str, dict[str, Rescue]] = {
    "late pour": {
        "developer": Rescue(
            "Pour on steadily; the clock counts from the middle of the fill and puts the drain later by half.",
            "The end of the film that met the developer last is a little thinner.",
            "in correction",
            "computed",
        ),
        "stop": Rescue(
            "Get the stop bath in now.",
            "The film developed on for as long as it waited: denser, more contrast.",
            "in correction",
            "bench-memory",
        ),
        "": Rescue(
            "Pour now and give the bath its full time.",
            "Usually nothing: this time is a minimum.",
            "nothing lost",
            "z-131",
        ),
    },
    "missed agitation": {
        "developer": Rescue(
            "Turn now and go on in rhythm; do not make up for it with extra turns.",
            "A little less speed and contrast, perhaps streaks.",
            "in correction",
            "ss0514",
        ),
        "": Rescue(
            "Turn now, and give the bath a minute more.",
            "Nothing, if the bath gets its time.",
            "nothing lost",
            "common-practice",
        ),
    },
    "wrong temperature": {
        "developer": Rescue(
            "Note what the thermometer says: the drain moves as far as time can mend it, no further.",
            "The mean density is mended; the balance between the layers is not.",
            "in correction",
            "inference",
        ),
        "": Rescue(
            "Below its range: give it half as long again. Above: go on.",
            "Weak bleaching or fixing if it was cold; both can be done again.",
            "tonight",
            "tg2044-1",
        ),
    },
    "wrong bottle": {
        "developer": Rescue(
            "Drain it, rinse three times with water at temperature, then the developer for its full time.",
            "Stop or bleach before the developer costs density and may stain; fixer takes the picture away.",
            "lost",
            "inference",
        ),
        "": Rescue(
            "Drain, rinse three times, and pour the right bath.",
            "The bath that was poured may be spoiled: mark its bottle.",
            "tonight",
            "common-practice",
        ),
    },
    "lid came off": {
        "developer": Rescue(
            "Cover it at once and go on.",
            "Film that saw light is fogged, the outer turns first.",
            "lost",
            "common-practice",
        ),
        "": Rescue(
            "Cover it and go on; once the bleach has done its work light does no harm.",
            "Before the bleach: fog where light fell, more on the outer turns.",
            "in correction",
            "common-practice",
        ),
    },
    "backing still on": {
        "": Rescue(
            "Go on; after the final wash wipe the back with a wet soft cloth, never the emulsion side.",
            "Black specks and smears, and particles in every bath that follows: filter them.",
            "tonight",
            "bench-memory",
        ),
    },
    "step skipped": {
        "developer": Rescue(
            "Nothing after the stop brings it back; before it, pour the developer now.",
            "No picture without a developer.",
            "lost",
            "inference",
        ),
        "stop": Rescue(
            "Rinse hard in several changes before the bleach.",
            "Developer carried into the bleach: stain, uneven, mostly at edges and perforations.",
            "in correction",
            "inference",
        ),
        "": Rescue(
            "If the film is still wet, go back and do the bath now, then every bath after it.",
            "Skipped bleach or fixer can be done tonight; a skipped rinse shortens the next bath's life.",
            "tonight",
            "tg2044-1",
        ),
    },
    "interrupted": {
        "developer": Rescue(
            "If you must go, drain and pour the stop bath: it ends development.",
            "A developer step cut short is thin; left long it is dense and crossed over.",
            "in correction",
            "h-24-08",
        ),
        "": Rescue(
            "Leave the film in this bath; hold the run and come back.",
            "Nothing within the bath's safe hold.",
            "nothing lost",
            "z-131",
        ),
    },
}


#: For a trouble in words of one's own, which no table can answer.
OWN_WORDS = Rescue(
    "Noted in your own words: there is no advice for it here.",
    "Not known: look at the film for it.",
    "cannot say",
    "common-practice",
)


def rescue(what: str, role: str | None) -> Rescue:
    """The advice for a trouble while a bath of that role is in the tank."""
    rows = TROUBLES.get(what, {"": OWN_WORDS})
    return rows.get(role or "", rows[""])


def troubles_as_json() -> dict[str, dict[str, dict[str, str]]]:
    """The whole table, for a face that must answer without a link."""
    return {what: {role: asdict(entry) for role, entry in rows.items()} for what, rows in TROUBLES.items()}
