"""Shared fixtures, and the rule that every published or independent check names what it stands on."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import settings

# The same examples on every machine; `--hypothesis-profile=default` draws new ones.
settings.register_profile("steady", derandomize=True, deadline=None)
settings.load_profile("steady")

#: Files that take longest, longest first: begun last, one of them would keep a worker busy while the other idles.
LONG = (
    "app/test_demo", "app/test_lengths", "stages/test_what_scans_lack", "web/test_print_room", "web/test_bad_stores",
    "app/test_light_by_turning", "app/test_orientation", "app/test_glass", "web/test_greys", "app/test_softening",
    "app/test_cluster", "stages/negative/test_mixed", "web/test_order_on_screen", "web/test_bench_run",
    "stages/positive/test_drift", "app/test_sequence", "stages/causes/test_grown", "app/test_resume",
    "stages/positive/test_film_kinds", "stages/causes/test_study", "stages/test_roll_of_known_truth",
)  # fmt: skip
NEEDS = {"published": ("source", "place"), "independent": ("how",), "pinned": ("why",)}


def rank(file: Path) -> int:
    """A file's place in the order of the run."""
    name = file.relative_to(Path(__file__).parent).with_suffix("").as_posix()
    return LONG.index(name) if name in LONG else len(LONG)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    items.sort(key=lambda item: rank(item.path))
    for item in items:
        for name, needed in NEEDS.items():
            for mark in item.iter_markers(name):
                given = len(mark.args) + len(mark.kwargs)
                if given != len(needed):
                    raise pytest.UsageError(f"{item.nodeid}: {name} takes {', '.join(needed)}")
