"""Lines from elsewhere: what does not fit its kind is refused before anything is written."""

from __future__ import annotations

from pathlib import Path

import pytest

from wetside.app.book import check_book, import_book
from wetside.app.shelf import shelf
from wetside.book.fit import misfit
from wetside.book.text import HEADER, line_of, read, written
from wetside.demo.story import told
from wetside.figures.finding import Unusable

BAD = (
    ('["a","roll",1,1.0,1.0,["roll:R1"],{}]', "roll lacks its roll"),
    ('["a","roll",1,1.0,1.0,[],{"roll":"R","stock":"S","gauge":"135","length_mm":"long"}]', "length_mm"),
    ('["a","bath",1,1.0,1.0,[],{"bath":"b","role":"developer","volume_ml":1e301}]', "volume_ml"),
    ('["a","run",1,1.0,1.0,[],{"run":"r","process":"ecn-2","rolls":"x"}]', "rolls"),
    ('["a","run event",1,1.0,1.0,[],{"run":"r","event":"fill","fields":[]}]', "fields"),
    ('["a","roll",9,1.0,1.0,[],{"roll":"R","stock":"S","gauge":"135"}]', "version 9"),
    ('["a","thermometer",1,1.0,1.0,[],{"thermometer":"t","read_c":true}]', "read_c"),
)


@pytest.mark.independent(how="every line of the demo's story, through its text")
def test_what_this_program_writes_fits() -> None:
    lines = [line_of(t.body, name=t.id, happened_at=t.at, noted_at=t.at) for t in told()]
    assert [misfit(read(written(line))) for line in lines] == [None] * len(lines)


@pytest.mark.parametrize(("row", "say"), BAD)
def test_a_text_with_a_line_that_does_not_fit_is_refused_whole(tmp_path: Path, row: str, say: str) -> None:
    good = '["ok","roll",1,1.0,1.0,["roll:R0"],{"gauge":"135","roll":"R0","stock":"S"}]'
    file = tmp_path / "in.txt"
    file.write_text("\n".join((HEADER, good, row, "")), encoding="utf-8")
    with pytest.raises(Unusable, match=say) as no:
        import_book(tmp_path, file)
    assert no.value.where == f"{file}:3"
    assert shelf(tmp_path)["rolls"] == []


def test_a_kind_that_is_not_known_here_is_kept(tmp_path: Path) -> None:
    file = tmp_path / "in.txt"
    file.write_text("\n".join((HEADER, '["a","of tomorrow",3,1.0,1.0,[],{"x":1}]', "")), encoding="utf-8")
    assert import_book(tmp_path, file)["new"] == 1
    assert check_book(tmp_path)["faults"] == []
