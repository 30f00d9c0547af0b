"""Plan: home, laboratory or wait, for the rolls on the shelf."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from wetside.figures.finding import Unusable


def plan_file(file: Path) -> dict[str, Any]:
    """The plan for a request in a JSON file."""
    try:
        given = json.loads(file.read_text(encoding="utf-8"))
    except OSError as slip:
        raise Unusable(f"cannot be read: {slip.strerror}", str(file)) from None
    except (ValueError, RecursionError) as slip:
        raise Unusable(f"expected JSON: {slip}", str(file)) from None
    return plan(given)


def plan(given: Mapping[str, Any]) -> dict[str, Any]:
    """The plan for a request (`wetside schema plan-input`)."""
    from wetside.stages.planning.plan import plan as planned
    from wetside.stages.planning.request import request_from

    return planned(request_from(given))
