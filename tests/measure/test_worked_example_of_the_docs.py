"""The worked example of ``docs/uncertainty.md`` is what the program computes."""

from math import hypot, sqrt
from pathlib import Path

import pytest

from measure.calibrated_images import caliper, image, mmode, study
from tableside.measure.calipers import caliper_measurements
from tableside.measure.combine import combine
from tableside.model import Measurement

PAGE = (Path(__file__).resolve().parents[2] / "docs" / "uncertainty.md").read_text("utf-8")
ROWS = {"a.dcm": (173, 176, 175), "b.dcm": (180, 182, 181)}


def sweeps() -> tuple[Measurement, ...]:
    images = [image(mmode(0.005, 0.02), file=file) for file in ROWS]
    drawn = [
        caliper("LVIDd", (100 + 120 * i, 200), (100 + 120 * i, 200 + rows), file=file)
        for file, beats in ROWS.items()
        for i, rows in enumerate(beats)
    ]
    return caliper_measurements(study(images, *drawn))[0]


def test_the_formulas_on_the_page_give_the_parts_of_the_first_sweep() -> None:
    first = sweeps()[0]
    one_beat = sqrt(2) * hypot(0.02 / sqrt(12), 0.03)
    scatter = sum((value - first.value) ** 2 for value in (3.46, 3.52, 3.50))
    pooled = (3 * (0.02 * first.value) ** 2 + scatter) / (3 + 3 - 1)
    assert first.value == pytest.approx((3.46 + 3.52 + 3.50) / 3)
    assert first.spread.trace == pytest.approx(one_beat * sqrt(1 / 2 + 1 / 6))
    assert first.spread.beats == pytest.approx(sqrt(pooled / 3))
    assert first.spread.calibration == pytest.approx(0.005 * first.value)


def test_the_page_prints_the_numbers_of_the_first_sweep() -> None:
    first = sweeps()[0]
    spread = first.spread
    for number in (first.beats[0].sd, spread.trace, spread.calibration, spread.beats):
        assert f"| {number:.4f} |" in PAGE
    low, high = first.interval90
    assert f"**{first.sd:.4f}**: {first.value:.2f} ± {first.sd:.2f}" in PAGE
    assert f"interval {low:.2f} to {high:.2f}" in PAGE
    assert f"| {spread.acquisition:.4f}; {spread.reading:.4f} |" in PAGE
    assert f"**{first.sd_total:.4f}**" in PAGE


def test_the_page_prints_the_numbers_of_both_sweeps_together() -> None:
    both = sweeps()
    (mean,) = combine(both)
    assert (
        f"gives {both[1].value:.3f}. Together: {mean.value:.3f}, within {mean.sd:.4f}" in PAGE
    )
    assert f"acquisition {mean.spread.acquisition:.4f}" in PAGE
    assert f"total {mean.sd_total:.4f}" in PAGE
