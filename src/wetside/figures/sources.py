"""What stands behind a source's id: title and tag of `sources.toml`."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files

#: A source's id as it stands in brackets behind a statement.
BEHIND = re.compile(r"\(([a-z0-9][a-z0-9-]+)\)")


@dataclass(frozen=True, slots=True)
class Source:
    """A publication by number or title, or what else a statement rests on; `tag`: published, memory, inference, …"""

    id: str
    title: str
    tag: str


@lru_cache(maxsize=1)
def sources() -> dict[str, Source]:
    """Every source by its id."""
    told = tomllib.loads((files("wetside") / "sources.toml").read_text(encoding="utf-8"))
    return {name: Source(name, str(one["title"]), str(one["tag"])) for name, one in told.items()}


def named_in(texts: Iterable[str]) -> list[Source]:
    """The sources named in brackets in some statements, each once, in the order of their ids."""
    found = {name for text in texts for name in BEHIND.findall(text)}
    return [source for name, source in sorted(sources().items()) if name in found]


def cited(name: str) -> str:
    """A source's id as a reader knows it: a publication by its number, or on what else the statement rests; other words as they are."""
    one = sources().get(name)
    if one is None or one.tag == name.replace("-", " "):
        return one.tag if one else name
    if name == "bench-memory":
        return "from memory"
    said = one.title.partition(":")[0].partition(", as remembered")[0]
    return f"{said}, from memory" if one.tag == "memory" else said
