"""What a roll's densities say of its exposure and its light, in words: the curves take it out, and what they cannot is said."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from wetside.figures.finding import CannotSay, Finding
from wetside.stages.positive.fit import GRADIENTS, STOP, ToneFit, log_exposure
from wetside.stages.positive.neutral import THIN, neutral_offsets

#: Printing density above base of a grey card that was exposed as meant, by which the exchange's codes are made. st-2065-3
GREY = 0.70
#: The middle of a picture lies about a stop under its grey card; from here on it is said [stops]. *common practice*
UNDER, OVER = -3.0, 1.5
#: Blue and red layers this far apart in exposure [stops] are another light than the stock's, or aged layers.
APART = 1.0
#: A masked film's base is denser to green than to red, and to blue than to green, by this [D] and more. *common practice*
MASK = 0.1
#: Slopes under this share of what stocks have are said.
FLAT = 0.88


def exposure_words(pieces: Sequence[np.ndarray], files: Sequence[str], tone: ToneFit | None) -> list[Finding]:
    """Findings of a roll from its pictures' densities above base (h, w, 3) [D]; `tone` the one it prints with, None by exchange."""
    found = [*_levels(pieces, files), *_light(pieces)]
    if tone is not None and not tone.assumed:
        found += _flat(np.array(tone.gradients))
    return found


def age_untold(tone: ToneFit | None) -> CannotSay | None:
    """Why a door that takes its slopes as given cannot tell aged stock from fresh; None for one that learned them."""
    if tone is not None and not tone.assumed:
        return None
    return CannotSay(
        "whether the stock has aged: this door takes the contrast as given, so curves flatter than a fresh stock's stay flat in the picture",
        "a grey scale on the same stock, and the own door",
    )


def base_words(base: np.ndarray, known: bool, by_gate: bool) -> list[Finding]:
    """What the base (3,) [D] that a roll is printed from leaves in doubt: one that stands in for none, or the mask of no usual film."""
    r, g, b = (float(value) for value in base)
    shown = f"r {r:.2f}, g {g:.2f}, b {b:.2f} D"
    if not known:
        return [
            Finding(
                "base-stands-in", "warning", "roll",
                "the thinnest places of the pictures stand in for the film's base: their blacks and the colour of their shadows are a guess",
                "unexposed film, under full scale", shown, "the rebate in the scans, at three quarters of full scale",
            )
        ]  # fmt: skip
    if by_gate and min(g - r, b - g) < MASK:
        return [
            Finding(
                "mask-unusual", "note", "open gate",
                "the base has not the orange of a masked film against this open gate: another light than the film's, or a film without a mask",
                f"green {MASK} D over red at least, and blue over green", shown, "the open gate again, by the light of the scans",
            )
        ]  # fmt: skip
    return []


def _levels(pieces: Sequence[np.ndarray], files: Sequence[str]) -> list[Finding]:
    """Frames whose middle lies far under or over, each kind in one line."""
    stops = [_stops_from_grey(piece) for piece in pieces]
    thin = [i for i, value in enumerate(stops) if value < UNDER]
    dense = [i for i, value in enumerate(stops) if value > OVER]
    found = []
    if thin:
        toe = float(np.median([(pieces[i] < 0.1).all(axis=2).mean() for i in thin]))
        say = (
            f"{_whole(thin, files)}under-exposed: the middle of {_named(thin, files)} lies up to {-min(stops[i] for i in thin):.1f} stops under a grey card's "
            f"density; the curves lift it, the grain with it, and {toe:.0%} of it lies in the toe, where nothing can be brought back"
        )
        found.append(_published("under-exposed", files[thin[0]], say, "half a stop to a stop more light"))
    if dense:
        top = max(float(np.percentile(pieces[i], 99)) for i in dense)
        say = (
            f"{_whole(dense, files, 'bright')}over-exposed: the middle of {_named(dense, files)} lies up to {max(stops[i] for i in dense):.1f} stops over a grey card's density; "
            f"the curves take it down; the densest places ({top:.1f} D above base) roll off"
        )
        found.append(
            _published("over-exposed", files[dense[0]], say, "a scan exposed for its densest places")
        )
    return found


def _stops_from_grey(piece: np.ndarray) -> float:
    """How far the middle of a picture's green layer (h, w, 3) [D] lies over a grey card as meant [stops]."""
    middle = float(np.median(log_exposure(np.maximum(piece[..., 1], 0.0), GRADIENTS[1])))
    return (middle - float(log_exposure(np.array(GREY), GRADIENTS[1]))) / STOP


def _published(kind: str, where: str, say: str, expected: str) -> Finding:
    return Finding(kind, "note", where, say, expected, source="published")


def _whole(those: Sequence[int], files: Sequence[str], subject: str = "dark") -> str:
    """Of a few frames among many it cannot be told whether the subject was so."""
    return "" if 2 * len(those) > len(files) else f"{subject} subjects or "


def _named(those: Sequence[int], files: Sequence[str]) -> str:
    if len(those) == len(files) > 1:
        return "every frame"
    shown = ", ".join(files[i] for i in those[:3])
    return shown if len(those) <= 3 else f"{shown} and {len(those) - 3} more"


def _light(pieces: Sequence[np.ndarray]) -> list[Finding]:
    """Layers that lie apart as they do under another light than the stock is made for."""
    clear = [np.maximum(piece, 0.0) for piece in pieces]
    offsets, _ = neutral_offsets(
        [log_exposure(one, GRADIENTS) for one in clear], [(one > THIN).all(axis=2) for one in clear]
    )
    apart = float(offsets[2] - offsets[0]) / STOP
    if abs(apart) < APART:
        return []
    more, less = ("blue", "red") if apart > 0 else ("red", "blue")
    like = (
        "tungsten stock in daylight without its filter"
        if apart > 0
        else "daylight stock under tungsten light, or stock whose blue layer has aged"
    )
    say = (
        f"the {more} layer shows {abs(apart):.1f} stops more exposure than the {less} one, as {like}; each layer's own curve takes it "
        f"out, and the {less} layer's shadows end sooner"
    )
    return [Finding("layers-apart", "note", "", say, "the filter, or the light the stock is made for")]


def _flat(gradients: np.ndarray) -> list[Finding]:
    """Curves flatter than stocks have them."""
    share = gradients / GRADIENTS
    if float(share.mean()) >= FLAT:
        return []
    say = (
        f"the curves are {1 - float(share.mean()):.0%} flatter than stocks usually are, as expired stock or short development are; "
        "they are followed, so contrast and hue come right, and the grain is lifted with it"
    )
    return [Finding("flat-curves", "note", "", say, "a fresh stock, or the control strip of the run")]
