"""Frames cut to their pictures: one size for all, each about its own picture."""

from __future__ import annotations

from wetside.stages.positive.cut import RIM, cuts_of, window, within


def test_one_size_for_all_about_each_own_picture() -> None:
    boxes = {"a": (100, 50, 720, 480), "b": (90, 60, 716, 484), "c": (120, 40, 722, 478)}
    cuts = cuts_of(boxes)
    rim = RIM * 480
    assert {cut[2:] for cut in cuts.values()} == {(2 * round(360 - rim), 2 * round(240 - rim))}
    for file, (x, y, w, h) in cuts.items():
        own = boxes[file]
        assert abs(x + w / 2 - own[0] - own[2] / 2) <= 0.5 and abs(y + h / 2 - own[1] - own[3] / 2) <= 0.5
        assert x > own[0] and y > own[1] and x + w < own[0] + own[2] and y + h < own[1] + own[3]


def test_a_picture_of_another_size_keeps_it_and_none_is_no_cut() -> None:
    cuts = cuts_of({"a": (0, 0, 400, 300), "b": (0, 0, 400, 300), "twice": (10, 10, 800, 600)})
    assert cuts["a"][2:] == cuts["b"][2:] and cuts["twice"][2] > 780
    assert cuts_of({}) == {}


def test_a_cut_stays_within_the_file_and_follows_its_half_size() -> None:
    assert within((-6, 380, 200, 120), 480, 640) == (0, 360, 200, 120)
    assert within((0, 0, 900, 500), 480, 640) == (0, 0, 640, 480)
    rows, columns = window((100, 60, 300, 200), 2, 240, 320)
    assert (rows.start, rows.stop, columns.start, columns.stop) == (30, 130, 50, 200)
