"""A JSON file that the user gives."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from wetside.figures.unusable import Unusable


def json_in(file: Path) -> Any:
    """What a JSON file holds; Unusable in one line where it cannot be read or is none."""
    try:
        return json.loads(file.read_text(encoding="utf-8"))
    except OSError as slip:
        raise Unusable(f"cannot be read: {slip.strerror}", str(file)) from None
    except (ValueError, RecursionError) as slip:
        raise Unusable(f"expected JSON: {slip}", str(file)) from None
