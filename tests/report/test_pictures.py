"""Pictures: what is shown, where it is drawn, and in which words it is told."""

from dataclasses import replace
from io import BytesIO

import numpy as np
import pytest
from PIL import Image as Picture

from tableside.model import Reading
from tableside.report.pen import Mark, PictureOptions, paint
from tableside.report.pictures import draw_pictures, frames_to_show

CALIPER = (0xF0, 0xE4, 0x42)


def pixels_of(png: bytes) -> np.ndarray:
    return np.asarray(Picture.open(BytesIO(png)).convert("RGB")).astype(int)


def near(found: np.ndarray, colour: tuple[int, int, int]) -> np.ndarray:
    return (np.abs(found - np.array(colour)).max(axis=2) < 40).nonzero()


def test_images_behind_a_doubt_are_shown_first(reading: Reading) -> None:
    assert [file for file, _ in frames_to_show(reading)][:2] == ["I0011.dcm", "I0007.dcm"]


def test_the_frame_is_the_one_that_was_measured(reading: Reading) -> None:
    assert ("I0011.dcm", 1) in frames_to_show(reading)


def test_no_more_than_the_limit_is_shown(reading: Reading) -> None:
    assert len(frames_to_show(reading, PictureOptions(pictures=2))) == 2


def test_a_caliper_lies_where_its_points_are() -> None:
    """By hand: a line from (40, 50) to (40, 150), enlarged threefold from its centres."""
    frame = np.zeros((200, 100), dtype=np.uint8)
    mark = Mark(kind="caliper", points=((40.0, 50.0), (40.0, 150.0)))
    png, columns, rows = paint(frame, [mark], (0, 0, 99, 199), PictureOptions())
    assert (columns, rows) == (300, 600)
    y, x = near(pixels_of(png), CALIPER)
    assert x.mean() == pytest.approx(40.5 * 3, abs=1.5)
    assert y.min() == pytest.approx(50.5 * 3, abs=3) and y.max() == pytest.approx(
        150.5 * 3, abs=3
    )


def test_the_picture_is_cropped_to_the_region(reading: Reading, pictures) -> None:
    """The M-mode of 800 x 500 pixels keeps a margin of 6 on every side."""
    drawn = {one.file: one for one in draw_pictures(reading, pictures)}["I0003.dcm"]
    assert drawn.columns == 1000
    assert drawn.rows == pytest.approx(1000 * 512 / 812, abs=1)


def test_points_outside_every_region_show_the_whole_frame(
    reading: Reading, changed, pictures
) -> None:
    wall = reading.exam.measurements[0]
    outside = replace(wall.beats[0], points=((2.0, 2.0), (2.0, 30.0)))
    exam = {"measurements": (replace(wall, beats=(outside,)),)}
    drawn = draw_pictures(changed(exam=exam, traces=()), pictures)
    assert drawn[0].columns / drawn[0].rows == pytest.approx(840 / 600, rel=0.005)


def test_colour_frames_keep_their_colours() -> None:
    frame = np.zeros((120, 160, 3), dtype=np.uint8)
    frame[40:80, 40:120] = (200, 30, 20)
    png, _, _ = paint(frame, [], (0, 0, 159, 119), PictureOptions())
    middle = pixels_of(png)[180, 240]
    assert np.abs(middle - np.array([200, 30, 20])).max() <= 2


def test_names_do_not_cover_each_other() -> None:
    frame = np.zeros((200, 300), dtype=np.uint8)
    line = ((40.0, 50.0), (40.0, 150.0))
    both = [
        Mark(kind="caliper", points=line, label="LVIDd"),
        Mark(kind="caliper", points=line, label="LVIDs"),
    ]
    one, _, _ = paint(frame, both[:1], (0, 0, 299, 199), PictureOptions())
    two, _, _ = paint(frame, both, (0, 0, 299, 199), PictureOptions())
    written_once = len(near(pixels_of(one), CALIPER)[0])
    written_twice = len(near(pixels_of(two), CALIPER)[0])
    assert written_twice > 1.1 * written_once


def test_the_words_say_what_is_drawn(reading: Reading, pictures) -> None:
    drawn = {one.file: one for one in draw_pictures(reading, pictures)}
    assert "frame 2 of 3" in drawn["I0011.dcm"].alternative
    assert "2 traced edges" in drawn["I0003.dcm"].alternative
    assert "at least 3.90 m/s" in drawn["I0007.dcm"].measured
