"""The JSON Schemas that ship with the program, each with an example."""

from __future__ import annotations

import json
from importlib.resources import files
from typing import Any

from wetside.figures.finding import Unusable


def schema_names() -> list[str]:
    """Names of all schemas, in order."""
    folder = files("wetside") / "schemas"
    names = [entry.name for entry in folder.iterdir()] if folder.is_dir() else []
    return sorted(n[:-5] for n in names if n.endswith(".json") and not n.endswith(".example.json"))


def schema(name: str) -> dict[str, Any]:
    """One schema and its example; Unusable names the nearest when there is none."""
    if name not in schema_names():
        from difflib import get_close_matches

        near = get_close_matches(name, schema_names(), 1)
        raise Unusable(
            f"no schema {name!r}; {'nearest: ' + near[0] if near else 'one of ' + ', '.join(schema_names())}",
            "schema",
        )
    folder = files("wetside") / "schemas"
    example = folder / f"{name}.example.json"
    return {
        "schema": "wetside.schema/1",
        "name": name,
        "json_schema": json.loads((folder / f"{name}.json").read_text(encoding="utf-8")),
        "example": json.loads(example.read_text(encoding="utf-8")) if example.is_file() else None,
    }
