"""An M-mode along a line of a cine whose walls move as we say."""

from dataclasses import replace

import numpy as np
import pytest

from tableside.automatic.cine_mmode import cine_mmode
from tableside.errors import NotMeasurable
from tableside.imaging.types import Floats, Pixels
from tableside.model import Axis, Image, Mode, Region, RegionKind

CM = 0.02
FRAME_S = 0.02
RATE = 120.0
LARGE_CM, SMALL_CM = 3.6, 2.2
LINE = ((100.0, 10.0), (100.0, 370.0))


def cavity_cm(time_s: Floats) -> Floats:
    middle, swing = (LARGE_CM + SMALL_CM) / 2, (LARGE_CM - SMALL_CM) / 2
    return middle + swing * np.cos(2 * np.pi * time_s * RATE / 60)


def cine(frames: int = 60) -> tuple[Image, list[Pixels]]:
    """Return a clip of two grey walls with speckle around a dark cavity."""
    rng = np.random.default_rng(7)
    grain = rng.gamma(4.0, 0.25, (380, 200))
    times = np.arange(frames) * FRAME_S
    rows = np.arange(380)[:, None]
    pictures = []
    for size_px in cavity_cm(times) / CM:
        top, bottom = 200 - size_px / 2, 200 + size_px / 2
        inside = (rows > top) & (rows < bottom)
        far = bottom + 50
        line = 130 * np.exp(-0.5 * ((rows - far) / 2.5) ** 2)
        level = np.where(inside, 4.0, 95.0) + line
        level = np.where(rows < top - 45, 8.0, level)
        pictures.append(np.clip(level * grain, 0, 255).astype(np.uint8))
    axis = Axis(unit="cm", per_pixel=CM)
    image = Image(
        file="clip.dcm",
        mode=Mode.TWO_D,
        rows=380,
        columns=200,
        frames=frames,
        frame_times_s=tuple(float(one) for one in times),
        stated_heart_rate=RATE,
        regions=(Region(index=0, kind=RegionKind.TWO_D, box=(0, 0, 199, 379), x=axis, y=axis),),
    )
    return image, pictures


def test_both_extremes_of_every_beat_are_read() -> None:
    image, frames = cine()
    found = cine_mmode(image, frames, LINE)
    large, small = found.measurements
    assert (large.quantity, small.quantity) == ("LVIDd", "LVIDs")
    assert len(large.beats) == 2  # 1.18 s at 120/min
    assert large.value == pytest.approx(LARGE_CM, abs=0.12)
    assert small.value == pytest.approx(SMALL_CM, abs=0.12)


def test_its_points_lie_on_the_line_in_the_frame_of_the_extreme() -> None:
    image, frames = cine()
    beat = cine_mmode(image, frames, LINE).measurements[0].beats[0]
    assert all(x == 100.0 for x, _ in beat.points)
    (_, top), (_, bottom) = beat.points
    assert (bottom - top) * CM == pytest.approx(beat.value, abs=1e-6)
    assert cavity_cm(np.array([beat.frame * FRAME_S]))[0] == pytest.approx(LARGE_CM, abs=0.1)


def test_fewer_frames_a_second_make_a_wider_spread() -> None:
    image, frames = cine()
    fast = cine_mmode(image, frames, LINE)
    few = replace(image, frames=20, frame_times_s=image.frame_times_s[::3])
    slow = cine_mmode(few, frames[::3], LINE)
    assert slow.frame_s == pytest.approx(3 * fast.frame_s)
    assert slow.measurements[0].spread.trace > 1.5 * fast.measurements[0].spread.trace
    assert "17 frames a second" in slow.notes[0]


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"frame_times_s": ()}, "does not say when"),
        ({"frames": 5}, "at least 8"),
        ({"regions": ()}, "carries no scale"),
        ({"doubt": "halved"}, "in doubt: halved"),
    ],
)
def test_what_is_lacking_is_said(change: dict[str, object], reason: str) -> None:
    image, frames = cine()
    with pytest.raises(NotMeasurable, match=reason):
        cine_mmode(replace(image, **change), frames, LINE)  # type: ignore[arg-type]
