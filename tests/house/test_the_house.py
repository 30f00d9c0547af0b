"""The house keeps its own rules: sources exist, modules stay small, the manual names what ships."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from wetside.cli.main import COMMANDS

ROOT = Path(__file__).resolve().parents[2]
SOURCE = ROOT / "src" / "wetside"
MODULES = sorted(SOURCE.rglob("*.py"))
TAGS = {"published", "memory", "computed", "inference", "common practice"}


@pytest.fixture(scope="module")
def sources() -> dict[str, dict[str, str]]:
    return tomllib.loads((SOURCE / "sources.toml").read_text(encoding="utf-8"))


def test_every_source_has_a_title_and_a_known_tag(sources: dict[str, dict[str, str]]) -> None:
    wrong = [
        name for name, entry in sources.items() if entry.get("tag") not in TAGS or not entry.get("title")
    ]
    assert not wrong


def test_every_source_cited_in_code_stands_in_the_list(sources: dict[str, dict[str, str]]) -> None:
    cited = re.compile(r"source\s*=\s*\"([^\"]+)\"")
    missing = {
        (path.relative_to(SOURCE).as_posix(), name)
        for path in MODULES
        if "laws" in path.parts
        for name in cited.findall(path.read_text(encoding="utf-8"))
        if name and name.replace(" ", "-") not in sources
    }
    assert not missing


TESTS = {path: path.read_text(encoding="utf-8") for path in sorted((ROOT / "tests").rglob("*.py"))}


def test_every_source_a_test_stands_on_is_in_the_list(sources: dict[str, dict[str, str]]) -> None:
    stood_on = re.compile(r"published\(\s*(?:source\s*=\s*)?\"([^\"]+)\"")
    missing = {(path.name, name) for path, text in TESTS.items() for name in stood_on.findall(text)}
    assert not {(file, name) for file, name in missing if name not in sources}


def test_every_law_is_checked_against_something_outside_it() -> None:
    held = [text for text in TESTS.values() if re.search(r"mark\.(published|independent)", text)]
    laws = [path for path in MODULES if "laws" in path.parts and path.name != "__init__.py"]
    names = {path: ".".join(path.relative_to(SOURCE.parent).with_suffix("").parts) for path in laws}
    unheld = {name for name in names.values() if not any(f"from {name} import" in text for text in held)}
    assert laws and not unheld


def test_no_module_is_over_four_hundred_lines() -> None:
    long = {path.name: lines for path in MODULES if (lines := len(path.read_text().splitlines())) > 400}
    assert not long


def test_every_module_says_what_it_is_for() -> None:
    silent = [path for path in MODULES if not path.read_text(encoding="utf-8").startswith('"""')]
    assert not silent


def test_every_command_has_its_module_and_stands_in_the_manual() -> None:
    manual = "\n".join(
        path.read_text(encoding="utf-8") for path in [*(ROOT / "docs").glob("*.md"), ROOT / "README.md"]
    )
    for name in COMMANDS:
        assert (SOURCE / "cli" / f"{name}.py").exists(), name
        assert f"wetside {name}" in manual, f"`wetside {name}` is not in the docs"


def test_requirement_files_hold_hashes_and_no_address() -> None:
    for name in ("run", "demo", "test"):
        text = (ROOT / "requirements" / f"{name}.txt").read_text()
        assert "--hash=sha256:" in text
        assert "://" not in text and "--index" not in text and "--find-links" not in text
