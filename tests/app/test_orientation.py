"""One truth for how scans lie: the orientation tag is applied once, and read, glass, print and contact sheet agree on it."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
import tifffile
from benchmarks.lengths import Laid, length
from benchmarks.rolls import Setting, roll

from wetside.app.printing.positive import PositiveOptions, positive
from wetside.app.printing.print_room import prepare, room
from wetside.app.reading.lengths import opened, roll_files
from wetside.app.reading.lie import Told, keep_lie, lie_told
from wetside.app.reading.read import PatchAt, ReadOptions, read
from wetside.app.viewing import glass
from wetside.figures.finding import Unusable
from wetside.figures.place import Part, Rectangle, turned_box, turned_pixels, undone
from wetside.store.scans.load import load
from wetside.store.scans.originals import write_dng, write_tiff16
from wetside.store.scans.tags import orientation_of

TAGS = range(2, 9)


@pytest.fixture(scope="module")
def upright(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("upright")
    roll(folder, Setting("135", frames=4, fine=10.0), 23)
    return folder


def stored(upright: Path, place: Path, tag: int) -> Path:
    """The roll as a camera would store it that was held otherwise: turned pixels, and the tag that sets them right."""
    place.mkdir(parents=True)
    for file in upright.glob("*.tif"):
        pixels = np.ascontiguousarray(turned_pixels(tifffile.imread(file), undone(tag)))
        write_tiff16(place / file.name, pixels, tag)
    return place


@pytest.mark.published(
    source="exif-2-32", place="tag 274: what the 0th row and the 0th column are, for the values 1 to 8"
)
def test_the_eight_tags_put_the_first_row_and_column_where_the_standard_says() -> None:
    sides = {
        1: ("top", "left"), 2: ("top", "right"), 3: ("bottom", "right"), 4: ("bottom", "left"), 5: ("left", "top"),
        6: ("right", "top"), 7: ("right", "bottom"), 8: ("left", "bottom"),
    }  # fmt: skip
    marked = np.zeros((5, 7), int)
    marked[0, :], marked[:, 0], marked[0, 0] = 1, 2, 3
    for tag, (row, column) in sides.items():
        found = turned_pixels(marked, tag)
        edges = {"top": found[0], "bottom": found[-1], "left": found[:, 0], "right": found[:, -1]}
        assert set(edges[row].tolist()) <= {1, 3} and set(edges[column].tolist()) <= {2, 3}


@pytest.mark.independent(how="the pixels that a rectangle cuts out, turned by numpy")
@pytest.mark.parametrize("tag", range(1, 9))
def test_a_place_is_the_same_pixels_in_file_and_part(tag: int) -> None:
    pixels = np.arange(30 * 44).reshape(30, 44)
    box = Rectangle(6, 4, 9, 5)
    turned = turned_box(box, 44, 30, tag)
    assert set(turned_pixels(pixels, tag)[turned.slices].ravel()) == set(pixels[box.slices].ravel())
    for down in (False, True):
        part = Part(Rectangle(3, 2, 40, 25), down, "gaps", tag)
        cut = pixels[part.box.slices]
        own = part.in_part(box)
        assert part.in_file(own) == box
        assert set(part.upright(cut)[own.slices].ravel()) == set(pixels[box.slices].ravel())
        assert (part.stored(part.upright(cut)) == cut).all()


@pytest.mark.independent(how="the same roll as an upright camera stores it")
@pytest.mark.parametrize("tag", TAGS)
def test_a_turned_roll_reads_as_the_upright_one(upright: Path, tmp_path: Path, tag: int) -> None:
    folder = stored(upright, tmp_path / "turned", tag)
    tall, wide = tifffile.imread(upright / "n1.tif").shape[:2]
    patch = Rectangle(wide // 2, tall // 2, 14, 10)
    size = (tall, wide) if tag > 4 else (wide, tall)
    there = turned_box(patch, wide, tall, undone(tag))
    plain = read(upright, ReadOptions(gauge="135", marks=False, patches=(PatchAt("n2.tif", patch),)))
    found = read(folder, ReadOptions(gauge="135", marks=False, patches=(PatchAt("n2.tif", there),)))
    assert [f.picture for f in found.frames] == [f.picture for f in plain.frames]
    assert (
        found.geometry.perf_edge == plain.geometry.perf_edge
        and found.geometry.px_per_mm == plain.geometry.px_per_mm
    )
    assert np.allclose(found.base.density, plain.base.density, atol=0.001)  # type: ignore[union-attr]
    assert np.allclose(found.patches[0].density, plain.patches[0].density, atol=0.002)  # type: ignore[arg-type]
    said = found.as_json()["frames"][0]  # type: ignore[index]
    at = Rectangle(*(said["picture"][key] for key in "xywh"))
    assert turned_box(at, *size, tag) == plain.frames[0].picture and said["part"]["by"] == "tag"
    assert [f.id for f in found.findings if f.id.startswith("turned")] == ["turned-by-tag"]


@pytest.mark.independent(how="the prints of the same roll as an upright camera stores it")
@pytest.mark.parametrize("tag", [3, 5, 6])
def test_prints_and_glass_agree_with_the_reading(upright: Path, tmp_path: Path, tag: int) -> None:
    home = tmp_path / "book"
    folder = stored(upright, home / "scans" / "T", tag)
    positive(upright, PositiveOptions(tmp_path / "plain"))
    positive(folder, PositiveOptions(tmp_path / "turned"))
    for name in ("n1.tif", "n4.tif"):
        one, two = tifffile.imread(tmp_path / "plain" / name), tifffile.imread(tmp_path / "turned" / name)
        assert one.shape == two.shape and np.abs(one.astype(int) - two).mean() < 40
    strip = glass.strip(home, "T")
    tall, wide = tifffile.imread(folder / "n1.tif").shape[:2]
    assert (strip["frames"][0]["width"], strip["frames"][0]["height"]) == (wide, tall)
    seen = cv2.imdecode(np.frombuffer(glass.view(home, "T", "n1.tif", 300), np.uint8), cv2.IMREAD_COLOR)
    assert seen.shape[:2] == (round(300 * tall / wide), 300)
    pixels = tifffile.imread(folder / "n1.tif").astype(float)
    small = cv2.resize(pixels, (300, seen.shape[0]), interpolation=cv2.INTER_AREA)[..., ::-1]
    assert np.corrcoef(np.log(small + 50).ravel(), np.log(seen.astype(float) + 5).ravel())[0, 1] > 0.9
    evened = cv2.imdecode(
        np.frombuffer(glass.view(home, "T", "n1.tif", 300, shade="evened"), np.uint8), cv2.IMREAD_COLOR
    )
    assert evened.shape == seen.shape


def test_raw_and_jpeg_files_tell_their_tag_and_nonsense_is_one(upright: Path, tmp_path: Path) -> None:
    pixels = tifffile.imread(upright / "n1.tif")
    write_dng(tmp_path / "a.dng", pixels, 6)
    assert orientation_of(tmp_path / "a.dng") == 6 and load(tmp_path / "a.dng").orientation == 6
    lies = opened(tmp_path / "a.dng")
    assert (lies.height, lies.width) == pixels.shape[1::-1]
    assert np.abs(lies.pixels.astype(int) - turned_pixels(pixels, 6)).max() <= 8
    import OpenImageIO as oiio

    spec = oiio.ImageSpec(*pixels.shape[1::-1], 3, oiio.UINT8)
    spec.attribute("Orientation", 8)
    out = oiio.ImageOutput.create(str(tmp_path / "a.jpg"))
    out.open(str(tmp_path / "a.jpg"), spec)
    out.write_image((pixels >> 8).astype(np.uint8))
    out.close()
    assert orientation_of(tmp_path / "a.jpg") == 8 and opened(tmp_path / "a.jpg").height == pixels.shape[1]
    write_tiff16(tmp_path / "odd.tif", pixels, 77)
    assert (
        orientation_of(tmp_path / "odd.tif") == 1 and opened(tmp_path / "odd.tif").height == pixels.shape[0]
    )


def test_tags_that_differ_within_a_roll_are_named(upright: Path, tmp_path: Path) -> None:
    folder = stored(upright, tmp_path / "mixed", 1)
    write_tiff16(folder / "n3.tif", tifffile.imread(folder / "n3.tif"), 3)
    said = {f.id: f for f in read(folder, ReadOptions(marks=False)).findings}
    assert "n3.tif" in said["tags-differ"].say and said["tags-differ"].found == "1, 3"


@pytest.mark.independent(how="the pictures' known places")
@pytest.mark.parametrize("tag", [3, 6, 8])
def test_a_length_is_cut_in_the_order_in_which_it_lies_once_turned(tmp_path: Path, tag: int) -> None:
    known = length(Laid("135", 3), 5, np.array([0.2, 0.52, 0.75]))
    write_tiff16(tmp_path / "s.tif", np.ascontiguousarray(turned_pixels(known.pixels, undone(tag))), tag)
    assert [p.name for p in roll_files(tmp_path).frames] == ["s.tif#1", "s.tif#2", "s.tif#3"]
    found = read(tmp_path, ReadOptions(gauge="135", marks=False))
    tall, wide = known.pixels.shape[:2]
    for frame, picture in zip(found.frames, known.pictures):
        assert frame.part is not None
        at = frame.part.in_file(frame.picture)
        size = (tall, wide) if tag > 4 else (wide, tall)
        upright = turned_box(at, *size, tag)
        assert abs(upright.x - picture.x) < 8 and abs(upright.w - picture.w) < 12
    assert found.geometry.frame_pitch_mm == pytest.approx(38.0, rel=0.004)


@pytest.mark.independent(how="lengths of film laid the other way round: the drawn frames' own order")
@pytest.mark.parametrize("told", [Told("right"), Told("left", "top", True), Told("right", "top", True)])
def test_order_and_direction_are_one_everywhere(tmp_path: Path, told: Told) -> None:
    home = tmp_path / "book"
    folder = home / "scans" / "D"
    folder.mkdir(parents=True)
    for i in (1, 2):
        write_tiff16(folder / f"s{i}.tif", length(Laid("135", 2), 30 + i, np.array([0.2, 0.52, 0.75])).pixels)
    keep_lie(home, "D", told)
    assert lie_told(folder) == told
    numbers = (2, 1) if told.from_right else (1, 2)
    order = [f"s{i}.tif#{n}" for i in (1, 2) for n in numbers]
    reading = glass.read_and_keep(home, "D", "135")
    assert [f["file"] for f in reading["frames"]] == order
    assert [f["file"] for f in glass.strip(home, "D")["frames"]] == order
    given = ReadOptions(gauge="135", marks=False, head=told.head, mirrored=told.mirrored)
    assert [f.file for f in read(folder, given).frames] == order
    prepare(home, "D")
    assert [f["file"] for f in room(home, "D")["frames"]] == order
    made = positive(folder, PositiveOptions(tmp_path / "out"))
    assert [f["file"] for f in made["frames"]] == order
    first, second = reading["frames"][0], reading["frames"][1]
    places = []
    for frame, share in ((first, 0.25), (first, 0.75), (second, 0.5)):
        at = frame["picture"]
        x = at["x"] + round((1 - share if told.from_right else share) * at["w"]) - 10
        from wetside.app.viewing.verdicts import drawn_mark

        places.append(
            drawn_mark(home, "D", frame["file"], Rectangle(x, at["y"] + at["h"] // 2, 20, 20))["film_mm"]
        )
    assert places == pytest.approx([9.0, 27.0, 38.0 + 18.0], abs=0.6)


def test_how_scans_lie_is_noted_once_and_slips_are_a_line(tmp_path: Path) -> None:
    (tmp_path / "scans" / "D").mkdir(parents=True)
    keep_lie(tmp_path, "D", Told("right"))
    keep_lie(tmp_path, "D", Told("right"))
    from wetside.store.ledger import Ledger

    with Ledger.open(tmp_path) as book:
        assert [line.body["result"] for line in book.lines()] == [
            {"head": "right", "perf": "top", "mirrored": False}
        ]
    with pytest.raises(Unusable, match="left or right"):
        keep_lie(tmp_path, "D", Told("north"))
