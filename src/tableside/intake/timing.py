"""When each frame and each R wave was, from the header.

Source: DICOM PS3.3 C.7.6.5 (Cine) and C.7.6.6 (Multi-frame).
"""

from collections.abc import Sequence
from itertools import accumulate
from math import isfinite
from typing import Any

from pydicom.dataset import Dataset

_VECTOR_TAG = 0x00181065
_LOWEST_BPM, _HIGHEST_BPM = 15.0, 400.0  # outside, a stated heart rate is a placeholder


def frame_times_s(dataset: Dataset, frames: int) -> tuple[float, ...]:
    """Return the time of every frame from the first, or nothing when the file does not say.

    FrameTime, FrameTimeVector and CineRate are asked in this order, except that a file whose
    FrameIncrementPointer names the vector is believed. A vector counts only when it has one
    entry a frame and time never runs backwards.
    """
    if frames < 2:
        return ()
    vector = _vector_s(dataset, frames)
    if vector and dataset.get("FrameIncrementPointer") == _VECTOR_TAG:
        return vector
    step_s = _number(dataset.get("FrameTime")) / 1000
    if step_s > 0:
        return tuple(index * step_s for index in range(frames))
    if vector:
        return vector
    rate = _number(dataset.get("CineRate"))
    return tuple(index / rate for index in range(frames)) if rate > 0 else ()


def r_wave_times_s(dataset: Dataset) -> tuple[float, ...]:
    """Return the times of the R waves from the first frame; nothing when not stated."""
    times = [one / 1000 for one in _numbers(dataset.get("RWaveTimeVector"))]
    return tuple(sorted(times)) if all(time >= 0 for time in times) else ()


def stated_heart_rate(dataset: Dataset) -> float | None:
    """Return the heart rate of the header; 0 and -1 stand for absent."""
    rate = _number(dataset.get("HeartRate"))
    return rate if _LOWEST_BPM <= rate <= _HIGHEST_BPM else None


def _vector_s(dataset: Dataset, frames: int) -> tuple[float, ...]:
    """Return the running sum of the increments; the first stands for the first frame."""
    steps = [one / 1000 for one in _numbers(dataset.get("FrameTimeVector"))]
    if len(steps) != frames or min(steps[1:]) < 0 or sum(steps[1:]) <= 0:
        return ()
    return tuple(accumulate(steps[1:], initial=0.0))


def _numbers(value: Any) -> Sequence[float]:
    if value is None:
        return ()
    many = value if isinstance(value, Sequence) and not isinstance(value, str) else [value]
    numbers = [_number(one) for one in many]
    return numbers if all(map(isfinite, numbers)) else ()


def _number(value: Any) -> float:
    """Return a number of the header; 0 where there is none."""
    try:
        number = float(value)
    except (TypeError, ValueError):
        return 0.0
    return number if abs(number) < 1e12 else 0.0
