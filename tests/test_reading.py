"""The arrow: a study from its pixels to its findings, on a phantom whose truth is known."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from tableside import OpenedStudy, Reading, open_study, read
from tableside.phantom.study import StudySpec, make_study
from tableside.reading import derived, judge, look, measured

SPEC = StudySpec(weight_kg=20.0, flows={}, clip_frames=8)


@pytest.fixture(scope="module")
def study(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, float]]:
    folder = tmp_path_factory.mktemp("reading") / "study"
    return folder, make_study(folder, SPEC, seed=11)


@pytest.fixture(scope="module")
def opened(study: tuple[Path, dict[str, float]]) -> Iterator[OpenedStudy]:
    with open_study(study[0]) as found:
        yield found


@pytest.fixture(scope="module")
def reading(opened: OpenedStudy) -> Reading:
    return read(opened)


@pytest.mark.parametrize("quantity", ["IVSd", "LVIDd", "LVPWd", "LVIDs"])
def test_walls_come_out_within_a_millimetre(
    reading: Reading, study: tuple[Path, dict[str, float]], quantity: str
) -> None:
    # 1 mm: half of what one expert differs from thirteen (canine keypoint study, JVIM 2024).
    found = reading.exam.measurement(quantity)
    assert found is not None
    assert found.value == pytest.approx(study[1][quantity], abs=0.1)


def test_every_number_walks_back_to_pixels(reading: Reading) -> None:
    files = {image.file for image in reading.exam.study.images}
    for one in reading.exam.measurements:
        assert any(beat.used for beat in one.beats), one.id
        assert {beat.file for beat in one.beats} <= files


def test_the_steps_one_by_one_give_the_same_reading(
    opened: OpenedStudy, reading: Reading
) -> None:
    looked = [look(opened, image) for image in opened.study.images]
    assert judge(derived(measured(opened.study, looked)), looked) == reading


def test_an_mmode_without_its_label_is_read_when_it_shows_beyond_doubt(
    opened: OpenedStudy,
) -> None:
    labelled = next(one for one in opened.study.images if one.mmode == "left ventricle")
    looked = look(opened, replace(labelled, mmode=None))
    assert looked.suggestion is not None
    assert looked.suggestion.certain == "left ventricle"
    assert looked.image is not None
    assert looked.image.mmode == "left ventricle"
    assert any("worksheet can say otherwise" in note for note in looked.image.notes)
    assert "LVIDd" in {one.quantity for one in looked.found.measurements}


def test_a_person_can_correct_a_measurement_before_images_are_combined(
    opened: OpenedStudy, reading: Reading
) -> None:
    looked = [look(opened, image) for image in opened.study.images]
    exam = measured(
        opened.study,
        looked,
        lambda one: replace(one, value=9.0) if one.quantity == "LVIDd" else one,
    )
    found = exam.measurement("LVIDd")
    assert found is not None
    assert found.value == 9.0
