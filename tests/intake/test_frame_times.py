"""Times of frames and R waves: the order of sources, and real files of each kind."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydicom.tag import Tag

from intake.made_dicom import image
from tableside.intake import open_study
from tableside.intake.timing import frame_times_s, r_wave_times_s, stated_heart_rate
from tableside.model import Image

VECTOR = [0, 40, 30, 50]


def real(path: Path) -> Image:
    with open_study(path) as opened:
        return opened.study.images[0]


def test_frame_time_comes_before_the_vector_and_the_cine_rate() -> None:
    header = image(4, FrameTime=20, FrameTimeVector=VECTOR, CineRate=10)
    assert frame_times_s(header, 4) == pytest.approx((0, 0.02, 0.04, 0.06))


def test_the_vector_is_the_running_sum_of_its_increments() -> None:
    """PS3.3 C.7.6.5.1.2: the first entry stands for the first frame."""
    header = image(4, FrameTimeVector=VECTOR, CineRate=10)
    assert frame_times_s(header, 4) == pytest.approx((0, 0.04, 0.07, 0.12))


def test_the_pointer_of_the_file_names_the_vector() -> None:
    pointer = Tag("FrameTimeVector")
    header = image(4, FrameTime=20, FrameTimeVector=VECTOR, FrameIncrementPointer=pointer)
    assert frame_times_s(header, 4)[-1] == pytest.approx(0.12)


def test_the_cine_rate_comes_last() -> None:
    assert frame_times_s(image(4, FrameTime=0, CineRate=10), 4)[-1] == pytest.approx(0.3)


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"FrameTimeVector": [0, 40]},
        {"FrameTimeVector": [0, 40, -30, 50]},
        {"FrameTimeVector": [0, 0, 0, 0]},
        {"FrameTime": -33, "CineRate": 0},
    ],
)
def test_a_file_that_does_not_say_gives_no_times(changes: dict) -> None:
    assert frame_times_s(image(4, **changes), 4) == ()


def test_a_single_frame_has_no_times() -> None:
    assert frame_times_s(image(FrameTime=33), 1) == ()


@given(st.lists(st.integers(1, 500), min_size=2, max_size=40))
def test_times_start_at_zero_and_grow(steps_ms: list[int]) -> None:
    times = frame_times_s(image(2, FrameTimeVector=[0, *steps_ms]), len(steps_ms) + 1)
    assert times[0] == 0 and list(times) == sorted(times)
    assert times[-1] == pytest.approx(sum(steps_ms) / 1000)


@pytest.mark.parametrize(
    ("rate", "stated"), [(117, 117.0), (0, None), (-1, None), (9999, None)]
)
def test_placeholders_of_the_heart_rate_are_absent(rate: int, stated: float | None) -> None:
    assert stated_heart_rate(image(HeartRate=rate)) == stated


def test_r_waves_are_in_seconds_from_the_first_frame(shared_data: Path) -> None:
    """The header of the file says 48.357666 and 1130.031982 ms."""
    one = real(shared_data / "odd" / "r-wave-vector-jpegxl.dcm")
    assert one.r_wave_times_s == pytest.approx((0.048357666, 1.130031982))
    assert 60 / (one.r_wave_times_s[1] - one.r_wave_times_s[0]) == pytest.approx(
        one.stated_heart_rate, rel=0.06
    )
    assert one.frame_times_s[-1] == pytest.approx(26 * 0.0474359)


def test_r_waves_before_the_first_frame_are_not_believed() -> None:
    assert r_wave_times_s(image(RWaveTimeVector=[-5.0, 200.0])) == ()


def test_the_stress_clips_carry_a_vector(shared_data: Path) -> None:
    one = real(shared_data / "human-echo" / "I_000007.dcm")
    assert one.frames == len(one.frame_times_s) == 10
    assert one.frame_times_s[1] == pytest.approx(0.04, abs=0.001)


def test_a_paediatric_clip_carries_a_frame_time(shared_data: Path) -> None:
    one = real(shared_data / "human-echo" / "I_000001.dcm")
    assert one.frame_times_s[1] == pytest.approx(0.030)
