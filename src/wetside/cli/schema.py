"""Print the JSON Schema of an input or output with an example; without a name, list them."""

from __future__ import annotations

import argparse

from wetside.cli.calling import Outcome
from wetside.figures.progress import Progress


def arguments(parser: argparse.ArgumentParser) -> None:
    """Options of `wetside schema`."""
    parser.add_argument("name", nargs="?", metavar="NAME")


def run(args: argparse.Namespace, progress: Progress) -> Outcome:
    """Show one schema, or the list."""
    import json

    from wetside.app.schemas import schema, schema_names

    if args.name is None:
        return Outcome({"schema": "wetside.schemas/1", "names": schema_names()}, "\n".join(schema_names()))
    found = schema(args.name)
    return Outcome(found, json.dumps(found["json_schema"], indent=2, ensure_ascii=False))
