"""Findings as people see them: what is alike said once, with what helps."""

from __future__ import annotations

from wetside.figures.finding import Finding, gathered


def of(where: str, found: str = "", source: str = "scan again linear") -> dict[str, object]:
    return Finding("coded", "warning", where, "it is coded", "a linear scan", found, source).as_json()


def test_files_of_which_the_same_is_said_are_named_in_one_line() -> None:
    shown = gathered([of("a.tif"), of("b.tif"), of("c.tif"), of("d.tif"), of("e.tif")])
    assert [one["say"] for one in shown] == ["a.tif, b.tif, c.tif and 2 more: it is coded"]
    assert shown[0]["more"] == "expected: a linear scan; what helps: scan again linear"


def test_what_was_found_differs_from_file_to_file_and_a_tag_is_no_help() -> None:
    shown = gathered([of("a.tif", "8 bits", "common practice"), of("b.tif", "12 bits", "common practice")])
    assert shown[0]["more"] == "8 bits; 12 bits; expected: a linear scan"
    assert len(gathered([of("a.tif"), of("a.tif", source="export again")])) == 2
