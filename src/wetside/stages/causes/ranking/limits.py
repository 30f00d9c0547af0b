"""What evidence cannot carry: what is missing, what contradicts, what changed all at once; each with what would help."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from wetside.figures.finding import Finding
from wetside.stages.causes.ranking.company import together
from wetside.stages.causes.ranking.evidence import CHANNELS, DENSITIES, Evidence
from wetside.stages.causes.ranking.local import LIGHT_KIND, sureness
from wetside.stages.causes.signs.sure import FRAMES, ON_ROLL

#: A chance under which marks are likelier mistakes than not.
EVEN = 0.5
WATCHED = {
    "developer_temperature_off_c": "the developer's temperature",
    "developer_time_off_s": "the developer's time",
    "missed_agitation": "agitation",
    "stop_bath_used": "a stop bath",
    "developer_age_days": "the developer's age",
    "bleach_area_m2_per_litre": "how much the bleach had done",
    "fixer_area_m2_per_litre": "how much the fixer had done",
}


def limits(evidence: Evidence) -> list[Finding]:
    """One finding for each thing that keeps this evidence from saying more; none for evidence that is empty."""
    found = [
        *_strip(evidence),
        *_scans(evidence),
        *_marks(evidence),
        *_light(evidence),
        *_log(evidence),
        *_answers(evidence),
        *suspects_together(evidence.company),
    ]
    return found if evidence.kinds or evidence.scans or evidence.company or evidence.answers else []


def _strip(evidence: Evidence) -> list[Finding]:
    values = {
        (name, channel): value
        for name in DENSITIES
        for channel, value in zip(CHANNELS, evidence.departures.get(name, (None,) * 3))
    }
    missing = [key for key, value in values.items() if value is None]
    if len(missing) == len(values):
        return [
            Finding("no-strip", "note", "departures", "no density against a good roll: a fault of the whole roll can only be guessed from the log",
                    "D-min, LD and HD−LD by r, g, b", "none", "a control strip or grey frames on the next roll, read against a good one's"),
        ]  # fmt: skip
    if all(values["dmin", channel] is None for channel in CHANNELS):
        return [
            Finding("no-base", "note", "departures", "the base was not read: stain, fog and age cannot be told from development",
                    "D-min by r, g, b", "none", "scan again with the rebate or the leader in view"),
        ]  # fmt: skip
    return []


def _scans(evidence: Evidence) -> list[Finding]:
    """What the roll's reading itself says against resting anything on it."""
    seen = evidence.scans
    found = [
        Finding(one["id"], "warning", "scans", f"{one['say']}: what the film shows is not of one roll", one["expected"], one["found"], one["source"])
        for one in seen.get("findings", ()) if one["id"] == "two-rolls"
    ]  # fmt: skip
    found += [
        Finding(one["id"], "note", "scans", one["say"], one["expected"], one["found"], one["source"])
        for one in seen.get("findings", ()) if one["id"] == "two-goes"
    ]  # fmt: skip
    rung = seen.get("rung")
    if rung == 0:
        return [*found, Finding("no-density", "note", "scans", "the scans are inverted or gamma-coded: of density they say nothing, nor whether a mark is denser or thinner; of marks and evenness only",
                                "linear 16-bit scans", "rung 0", "scan again linear, not inverted, all corrections off")]  # fmt: skip
    if rung == 1:
        return [*found, Finding("no-rebate", "note", "scans", "the scans show no rebate: stain, fog and age cannot be told from development, nor one frame's density from another's",
                                "rebate in view", "rung 1", "scan again with the rebate or the leader in view, exposure locked")]  # fmt: skip
    return found


def _marks(evidence: Evidence) -> list[Finding]:
    """Marks so few that the search may have been mistaken in all of them."""
    if not evidence.marks or sureness(evidence) >= EVEN:
        return []
    frames = evidence.frames or FRAMES
    found, by_mistake = len(evidence.marks), ON_ROLL * frames
    return [
        Finding("marks-by-mistake", "note", "marks", f"{found} mark{'s' * (found != 1)} on {frames} frames: the search claims about {max(1, round(by_mistake))} on so many by mistake, so they hardly speak",
                "a repeat, or several alike", f"{found} on {frames} frames", "say on the glass of each whether it is a mark; one that you confirm counts in full"),
    ]  # fmt: skip


def _light(evidence: Evidence) -> list[Finding]:
    """A gradient that may be the light's or the film's."""
    cast = evidence.cast
    if not cast.get("found") or cast.get("kind") != LIGHT_KIND or cast.get("parted", True):
        return []
    peaks = [abs(float(v)) for v in (cast.get("peak") or {}).values() if v is not None]
    size = f"{2 * max(peaks):.2f} D over the picture" if peaks else "a gradient"
    return [
        Finding("light-or-film", "note", "cast", f"the frames share a gradient of {size}: the light's or the film's, nothing here parts them; the process is not blamed for it",
                "a scan of the light without film", size, "scan the light without film at the same exposure, or one frame turned half round"),
    ]  # fmt: skip


def _log(evidence: Evidence) -> list[Finding]:
    gaps = [say for key, say in WATCHED.items() if evidence.log.get(key) is None]
    if not evidence.log or not gaps:
        return []
    return [
        Finding("log-gaps", "note", "log", f"the log says nothing of {', '.join(gaps)}", "a line for each", f"{len(gaps)} of {len(WATCHED)} missing",
                "note them in the next run; what is not known counts neither for nor against"),
    ]  # fmt: skip


def _answers(evidence: Evidence) -> list[Finding]:
    given = evidence.answers
    pairs = (
        ("seen on", "only the picture", "in unexposed film", "yes", "not on the negative, yet in unexposed film"),
        ("stays with", "the film", "same place in every roll", "yes", "it stays with the film, yet lies at the same place in every roll"),
    )  # fmt: skip
    found = [
        Finding("answers-contradict", "warning", "answers", f"two answers contradict each other: {say}", "", "", "look again with a loupe, and answer anew")
        for a, x, b, y, say in pairs
        if given.get(a) == x and given.get(b) == y
    ]  # fmt: skip
    cast = evidence.cast
    if (
        given.get("in unexposed film") == "no"
        and cast.get("found")
        and cast.get("anchor", "rebate") == "rebate"
        and cast.get("kind") == "additive"
    ):
        found.append(
            Finding("answer-against-film", "warning", "answers", "the answer says it is not in unexposed film, but the rebate shows it", "", "",
                    "look at the leader and the gaps again")
        )  # fmt: skip
    return found


def suspects_together(rolls: Sequence[Mapping[str, Any]]) -> list[Finding]:
    """Things that were on every bad roll and on no good one, always together: nothing in the book can part them."""
    bad = [bool(roll.get("bad")) for roll in rolls]
    if not any(bad) or all(bad):
        return []
    for names, held in together(rolls):
        if len(names) > 1 and list(held) == bad:
            return [
                Finding("changed-at-once", "warning", "company", f"every suspect changed at once: {', '.join(names)} were always together", "", "",
                        f"change one alone on the next roll, or a split roll: {names[0]} against another"),
            ]  # fmt: skip
    return []
