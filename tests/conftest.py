"""Shared fixtures, and the rule that every published or independent check names what it stands on."""

from __future__ import annotations

import pytest
from hypothesis import settings

# The same examples on every machine; `--hypothesis-profile=default` draws new ones.
settings.register_profile("steady", derandomize=True, deadline=None)
settings.load_profile("steady")

NEEDS = {"published": ("source", "place"), "independent": ("how",), "pinned": ("why",)}


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        for name, needed in NEEDS.items():
            for mark in item.iter_markers(name):
                given = len(mark.args) + len(mark.kwargs)
                if given != len(needed):
                    raise pytest.UsageError(f"{item.nodeid}: {name} takes {', '.join(needed)}")
