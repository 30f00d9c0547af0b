"""Several frames in one file: found, cut, numbered, read, shown and printed as if each had a file of its own."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import tifffile
from benchmarks.lengths import FINE, STRIPS, Held, Known, Laid, held, in_order, length, scan_of
from benchmarks.rolls import Setting, roll

from wetside.app.printing.positive import PositiveOptions, positive
from wetside.app.reading.lengths import opened, part_at, parts_and_doubt, roll_files
from wetside.app.reading.read import PatchAt, ReadOptions, read
from wetside.app.viewing import densitometer, glass
from wetside.app.viewing.contact_sheet import write_contact_sheet
from wetside.figures.finding import Unusable
from wetside.figures.place import Part, Rectangle, intersection_over_union
from wetside.figures.reading import Geometry
from wetside.laws.reel.gauges import GAUGES
from wetside.stages.negative.found.advance import Lying, with_advance
from wetside.stages.negative.found.geometry import pitch_over_lengths
from wetside.stages.negative.found.length import _dips, _runs
from wetside.store.scans.load import load

BASE = np.array([0.2, 0.52, 0.75])
PLANTED = pytest.mark.independent(
    how="films drawn from the gauges' lengths, their pictures known (benchmarks/lengths.py)"
)


def laid_in(folder: Path, *lengths: Laid, seed: int = 7) -> list[Known]:
    folder.mkdir(parents=True, exist_ok=True)
    known = [length(one, seed + i, BASE) for i, one in enumerate(lengths)]
    for i, one in enumerate(known, 1):
        tifffile.imwrite(folder / f"s{i}.tif", one.pixels, photometric="rgb")
    return known


def stored(frame: dict) -> Rectangle:
    return Rectangle(*(frame["picture"][key] for key in "xywh"))


@PLANTED
@pytest.mark.parametrize(
    ("gauge", "how"),
    [
        ("135", Laid(down=True, skew=1.0)), ("110", Laid(surround="light", blank=(2,))), ("16still", Laid(bars=True)),
        ("16cine", Laid()), ("135", Laid(coded=True)), ("16cine", Laid(skew=-1.5, black=(3,))),
    ],
)  # fmt: skip
def test_the_frames_of_a_length_are_found(gauge: str, how: Laid) -> None:
    known = length(replace(how, gauge=gauge, frames=4), 41)
    parts = parts_and_doubt(scan_of(known))[0]
    assert len(parts) == 4
    for part, picture in zip(parts, known.pictures):
        inside = intersection_over_union(part.box.clipped_to(99_999, 99_999), picture)
        assert (
            inside > 0
            and picture.x >= part.box.x - 3
            and picture.x + picture.w <= part.box.x + part.box.w + 3
        )
        assert picture.y >= part.box.y and picture.y + picture.h <= part.box.y + part.box.h
    if how.blank:
        assert [part.by for part in parts] == ["gaps", "pitch", "gaps", "gaps"]


@pytest.mark.independent(how="rolls of one frame a file")
def test_files_of_one_frame_stay_whole(tmp_path: Path) -> None:
    for i, gauge in enumerate(FINE):
        roll(tmp_path / gauge, Setting(gauge, frames=2, skew=0.5 * i), 60 + i)
        assert [parts_and_doubt(load(tmp_path / gauge / f"n{n}.tif"))[0] for n in (1, 2)] == [(), ()]


@pytest.mark.independent(
    how="a profile drawn with a scene's wide valley, and with a gap under two pixels wide"
)
def test_a_valley_in_the_middle_of_a_picture_is_no_gap_between_two() -> None:
    valley, gap = np.full(900, 0.45), np.full(900, 0.45)
    valley[440:456] = 0.15
    valley[446] = 0.13
    gap[449:451] = 0.13
    for share in (valley, gap):
        share[:20] = share[-20:] = 0
    assert _dips(valley, 20, 880, 430.0) == []
    assert _dips(gap, 20, 880, 430.0) == [449]


@pytest.mark.independent(
    how="a pole behind the subject, and a gap of a pixel, drawn in the middle of 36 × 24"
)
@pytest.mark.parametrize(("left", "runs"), [(0.29, [(10, 444)]), (0.06, [(10, 227), (228, 444)])])
def test_what_may_be_one_picture_is_parted_by_a_deep_dip_alone(
    left: float, runs: list[tuple[int, int]]
) -> None:
    share = np.full(454, 0.77)
    share[:10] = share[444:] = 0
    share[225:230] = 0.6, 0.4, left, 0.44, 0.62
    assert _runs(share, 217.0, 290) == runs


@PLANTED
@pytest.mark.parametrize("down", [False, True])
def test_a_roll_of_lengths_is_read_in_pixels_of_its_files(tmp_path: Path, down: bool) -> None:
    known = laid_in(tmp_path, Laid("135", 4, down=down), Laid("135", 3, down=down))
    spot = known[0].pictures[2]
    patch = Rectangle(spot.x + spot.w // 2, spot.y - 8 if not down else spot.y + spot.h // 2, 12, 4)
    reading = read(
        tmp_path, ReadOptions(gauge="135", marks=False, patches=(PatchAt("s1.tif", patch),))
    ).as_json()
    assert [f["file"] for f in reading["frames"]] == [f"s1.tif#{n}" for n in (1, 2, 3, 4)] + [
        f"s2.tif#{n}" for n in (1, 2, 3)
    ]
    true = [picture for one in known for picture in one.pictures]
    for frame, picture in zip(reading["frames"], true):
        assert intersection_over_union(stored(frame), picture) > 0.97
        assert frame["part"]["down"] is down and frame["part"]["by"] == "gaps"
    assert reading["patches"][0]["file"] == "s1.tif" and reading["rung"] == 2
    if not down:
        assert reading["patches"][0]["g"] == pytest.approx(0.0, abs=0.02)


@PLANTED
def test_each_frame_of_a_length_is_printed_and_shown(tmp_path: Path) -> None:
    home = tmp_path / "book"
    known = laid_in(home / "scans" / "R9", Laid("16still", 3), Laid("16still", 3))
    made = positive(home / "scans" / "R9", PositiveOptions(home / "positives" / "R9", kind="jpeg"))
    names = [f"s{i}-{n}.jpg" for i in (1, 2) for n in (1, 2, 3)]
    assert [Path(f["picture"]).name for f in made["frames"]] == names
    assert (
        positive(home / "scans" / "R9", PositiveOptions(home / "positives" / "R9", kind="jpeg"))["kept"] == 6
    )
    strip = glass.strip(home, "R9")
    assert [f["file"] for f in strip["frames"]][:2] == ["s1.tif#1", "s1.tif#2"]
    second = strip["frames"][1]
    picture = known[0].pictures[1]
    assert second["x"] < picture.x and picture.x + picture.w < second["x"] + second["width"]
    at = densitometer.density_at(home, "R9", "s1.tif#2", picture.x + 40, picture.y + 40)
    plain = -np.log10(
        np.median(known[0].pixels[picture.y + 33 : picture.y + 48, picture.x + 33 : picture.x + 48, 1])
        / 65535
    )
    assert at["density"]["g"] == pytest.approx(plain, abs=0.02)
    assert glass.view(home, "R9", "s1.tif#2", 300)[:2] == b"\xff\xd8"
    assert glass.view(home, "R9", "s1.tif#2", 300, print_=True)[:2] == b"\xff\xd8"


@PLANTED
@pytest.mark.parametrize(
    ("gauge", "how"),
    [("135", "two strips"), ("16cine", "three, down the file"), ("135", "three, the last of one frame"),
     ("16still", "three on bare light"), ("110", "two, skewed 1°"), ("135", "two, holder's bars over the gaps, down")],
)  # fmt: skip
def test_strips_side_by_side_are_cut_one_after_the_other(gauge: str, how: str) -> None:
    told = STRIPS[how]
    known = held(replace(told, laid=replace(told.laid, gauge=gauge)), 91)
    parts = parts_and_doubt(scan_of(known))[0]
    assert len(parts) == len(known.pictures) and in_order(parts, known.pictures)
    frames = told.frames[::-1] if told.laid.down else told.frames
    assert [part.strip for part in parts] == [n for n, count in enumerate(frames, 1) for _ in range(count)]
    assert {part.down for part in parts} == {told.laid.down}


@PLANTED
def test_strips_side_by_side_are_read_shown_and_printed(tmp_path: Path) -> None:
    home = tmp_path / "book"
    folder = home / "scans" / "R9"
    folder.mkdir(parents=True)
    known = held(Held((4, 3)), 12)
    tifffile.imwrite(folder / "s1.tif", known.pixels, photometric="rgb")
    reading = read(folder, ReadOptions(gauge="135", marks=False))
    names = [f"s1.tif#{n}" for n in range(1, 8)]
    assert [frame.file for frame in reading.frames] == names
    for frame, picture in zip(reading.as_json()["frames"], known.pictures):
        assert intersection_over_union(stored(frame), picture) > 0.97
    assert reading.geometry.frame_pitch_mm == pytest.approx(GAUGES["135"].frame_pitch_mm, rel=0.01)
    right = read(folder, ReadOptions(gauge="135", marks=False, head="right"))
    assert [frame.file[-1] for frame in right.frames] == list("4321765")
    made = positive(folder, PositiveOptions(home / "positives" / "R9", kind="jpeg"))
    assert [Path(f["picture"]).name for f in made["frames"]] == [f"s1-{n}.jpg" for n in range(1, 8)]
    assert [f["file"] for f in glass.strip(home, "R9")["frames"]] == names
    assert glass.view(home, "R9", "s1.tif#6", 300)[:2] == b"\xff\xd8"
    write_contact_sheet(folder, reading, tmp_path / "sheet.jpg")
    assert (tmp_path / "sheet.jpg").read_bytes()[:2] == b"\xff\xd8"


@PLANTED
def test_a_strip_that_cannot_be_cut_leaves_the_file_whole_and_says_so(tmp_path: Path) -> None:
    known = held(Held((4, 4)), 12)
    first = known.pictures[4]
    pixels = known.pixels.copy()
    band = pixels[first.y : first.y + first.h, first.x : known.pictures[7].x + first.w]
    band[:] = np.resize(pixels[first.y : first.y + first.h, first.x : first.x + first.w], band.shape)
    tifffile.imwrite(tmp_path / "s1.tif", pixels, photometric="rgb")
    reading = read(tmp_path, ReadOptions(gauge="135", marks=False))
    assert [frame.file for frame in reading.frames] == ["s1.tif"]
    assert [f.where for f in reading.findings if f.id == "strips-unsure"] == ["s1.tif"]


@pytest.mark.independent(how="one length, its holder and light around it; the strips counted as drawn")
@pytest.mark.parametrize(
    "how", [Laid(), Laid(bars=True, down=True), Laid(surround="light", skew=1.0), Laid(coded=True)]
)
def test_one_strip_is_never_taken_for_several(how: Laid) -> None:
    for number, gauge in enumerate(FINE):
        parts = parts_and_doubt(scan_of(length(replace(how, gauge=gauge, frames=4), 70 + number)))[0]
        assert len(parts) == 4 and {part.strip for part in parts} == {1}


def test_a_place_in_a_part_is_one_place_in_its_file() -> None:
    for down in (False, True):
        part = Part(Rectangle(100, 200, 50, 80), down)
        inner = Rectangle(110, 230, 12, 20)
        assert part.in_file(part.in_part(inner)) == inner
    pixels = np.arange(80 * 50).reshape(80, 50)
    turned = np.rot90(pixels)
    own = Part(Rectangle(0, 0, 50, 80), True).in_part(Rectangle(7, 9, 3, 4))
    assert set(turned[own.slices].ravel()) == set(pixels[9:13, 7:10].ravel())


def test_a_frame_that_a_file_has_not_is_one_line(tmp_path: Path) -> None:
    laid_in(tmp_path, Laid("135", 2))
    assert [path.name for path in roll_files(tmp_path).frames] == ["s1.tif#1", "s1.tif#2"]
    with pytest.raises(Unusable, match="holds 2 frames"):
        opened(tmp_path / "s1.tif#3")
    (tmp_path / "odd#2").write_bytes((tmp_path / "s1.tif").read_bytes())
    assert part_at(tmp_path / "odd#2") is None


@pytest.mark.independent(
    how="frames drawn at the gauges' pitches; the scale by the perforations, whose pitches SMPTE gives"
)
@pytest.mark.parametrize("gauge", ["135", "16still", "110", "16cine"])
def test_the_frame_pitch_is_measured_with_its_spread(tmp_path: Path, gauge: str) -> None:
    laid_in(tmp_path, Laid(gauge, 4), Laid(gauge, 4))
    lengths = read(tmp_path, ReadOptions(gauge=gauge, marks=False)).geometry
    assert lengths.px_per_mm == pytest.approx(FINE[gauge], rel=0.003) and lengths.px_per_mm_spread
    assert lengths.frame_pitch_mm == pytest.approx(GAUGES[gauge].frame_pitch_mm, rel=0.004)
    assert (
        lengths.frame_pitch_spread_mm
        and abs(lengths.frame_pitch_mm - GAUGES[gauge].frame_pitch_mm) < 4 * lengths.frame_pitch_spread_mm
    )
    assert "measured" in lengths.source and lengths.perf_edge == ("both" if gauge == "135" else "top")


def test_a_frame_pitch_that_is_told_is_taken_and_has_no_spread(tmp_path: Path) -> None:
    laid_in(tmp_path, Laid("135", 2))
    told = read(tmp_path, ReadOptions(gauge="135", frame_pitch=40.0, marks=False)).geometry
    assert told.frame_pitch_mm == 40.0 and told.frame_pitch_spread_mm is None


@pytest.mark.independent(how="rows of holes made at a pitch, some missing, some shaken, one row of chance")
def test_a_pitch_over_lengths_needs_an_even_row() -> None:
    rng = np.random.default_rng(2)
    row = 40.0 + 395.5 * np.array([0, 1, 3, 4])
    found = pitch_over_lengths([row.tolist(), (row + rng.normal(0, 0.4, 4)).tolist(), [10.0, 70.0]])
    assert found is not None and found[0] == pytest.approx(395.5, abs=0.5) and 0 < found[1] < 1.0
    assert (
        pitch_over_lengths([[10.0, 100.0, 330.0, 371.0], [5.0, 400.0]]) is None
        and pitch_over_lengths([]) is None
    )


def test_uneven_frames_are_counted_from_where_they_lie() -> None:
    lengths = Geometry(
        25.35, 7.605, 10.0, "frame pitch of 110; scale from the perforations' pitch", px_per_mm_spread=0.01
    )
    places = [0.0, 228.0, 456.0, 760.0]
    frames = [Lying("a.tif", at, True) for at in places] + [Lying("b.tif", 50.0, True)]
    found, said = with_advance(lengths, frames, given=False)
    assert found.starts_mm == pytest.approx((0.0, 22.8, 45.6, 76.0, 98.8)) and said[0].id == "frames-uneven"
    assert found.source.endswith("measured over 3 steps")
    even, nothing = with_advance(lengths, frames[:3], given=False)
    assert even.frame_pitch_mm == pytest.approx(22.8) and even.starts_mm == () and nothing == ()
    unseen = [replace(one, seen=False) for one in frames]
    assert with_advance(lengths, unseen, given=False) == (lengths, ())
