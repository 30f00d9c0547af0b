"""The usual cautions of mixing and pouring. The sheet that came with the chemical and local codes rule."""

from __future__ import annotations

GENERAL = (
    "The sheet that came with each chemical, and the local code on disposal, rule over what stands here.",
    "Gloves, goggles, fresh air; no food vessels; bottles labelled and dated.",
)

BY_ROLE: dict[str, tuple[str, ...]] = {
    "prebath": (
        "Borax may harm fertility (H360FD); hydroxide burns (H314): add it to water slowly, never water to it.",
    ),
    "developer": (
        "CD-3 and CD-4 sensitise the skin (H317) and are very toxic to water life (H410).",
        "Carbonate irritates the eyes (H319).",
    ),
    "stop": (
        "Acid into water, never water into acid; sulfuric acid burns (H314).",
        "Sulfite carried into acid frees sulfur dioxide (EUH031): ventilate; carbonate frees gas: vent the tank.",
    ),
    "bleach": (
        "Ferricyanide frees a very toxic gas with strong acid or heat (EUH032): rinse between stop and bleach, "
        "and never mix their wastes.",
        "Persulfate is an oxidiser and sensitiser (H272, H317, H334).",
    ),
    "fixer": ("Used fixer holds silver: to a collection point, by the local code.",),
}


def cautions_for(roles: list[str]) -> list[str]:
    """The cautions of these baths, general ones first, each once. H-codes from memory (source bench-memory)."""
    said = [*GENERAL, *(line for role in roles for line in BY_ROLE.get(role, ()))]
    return list(dict.fromkeys(said))
