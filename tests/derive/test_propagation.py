"""The doubt of an index: what cancels, what adds, and what drawing at random says."""

from collections.abc import Callable
from math import hypot, sqrt

import numpy as np
import pytest

from tableside.derive import indices
from tableside.derive.chambers import fractional_shortening, ventricular_mass
from tableside.derive.flow import stroke_volume
from tableside.derive.volumes import ejection_fraction, teichholz_volume
from tableside.model import Exam, Index

from .exams import exam_of, measured

SCALE_ONLY = {"calibration": 0.02}
ALL_PARTS = {
    "trace": 0.012,
    "calibration": 0.01,
    "beats": 0.015,
    "acquisition": 0.02,
    "reading": 0.02,
}
DRAWS = 100_000


def index(exam: Exam, name: str) -> Index:
    return next(one for one in indices(exam) if one.name == name)


@pytest.mark.parametrize("name", ["FS", "LA:Ao", "RWT", "EF_discs"])
def test_an_error_of_scale_cancels_in_a_ratio_of_one_image(name: str) -> None:
    pairs = {
        "FS": ("LVIDd", "LVIDs"),
        "LA:Ao": ("LA", "Ao"),
        "RWT": ("LVPWd", "LVIDd"),
        "EF_discs": ("EDV", "ESV"),
    }
    values = {
        "LVIDd": 3.4,
        "LVIDs": 2.1,
        "LA": 2.4,
        "Ao": 1.5,
        "LVPWd": 0.8,
        "EDV": 40,
        "ESV": 15,
    }
    pair = [measured(one, values[one], shares=SCALE_ONLY) for one in pairs[name]]
    assert index(exam_of(*pair), name).sd == pytest.approx(0.0, abs=1e-6)


def test_an_error_of_scale_stays_in_a_size_freed_of_weight() -> None:
    """By hand: (u/x)^2 = (u_d/d)^2 + (0.294 u_BW/BW)^2, weight known to 1.5 %."""
    found = index(exam_of(measured("LVIDd", 3.4, shares=SCALE_ONLY)), "LVIDDN")
    assert found.sd / found.value == pytest.approx(hypot(0.02, 0.294 * 0.015), rel=1e-4)


def test_scales_of_two_images_do_not_cancel() -> None:
    one = measured("LA", 2.4, shares=SCALE_ONLY, file="I1")
    other = measured("Ao", 1.5, shares=SCALE_ONLY, file="I2")
    found = index(exam_of(one, other), "LA:Ao")
    assert found.sd / found.value == pytest.approx(sqrt(2) * 0.02, rel=1e-4)
    assert "LA and Ao come from different images" in found.assumptions


def test_speed_and_time_of_one_spectrum_do_not_share_a_scale() -> None:
    one = measured("E", 1.0, shares=SCALE_ONLY)
    other = measured("IVRT", 50.0, shares=SCALE_ONLY)
    found = index(exam_of(one, other), "E:IVRT")
    assert found.sd / found.value == pytest.approx(sqrt(2) * 0.02, rel=1e-4)


def test_means_over_the_same_images_share_their_scales() -> None:
    pair = [measured(name, 2.0, shares=SCALE_ONLY, scale=None) for name in ("LA", "Ao")]
    assert index(exam_of(*pair), "LA:Ao").sd == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize(
    ("d_cm", "s_cm", "each_cm", "points"),
    [
        (3.0, 1.9, 0.05, 2.0),
        (3.0, 1.9, 0.10, 3.9),
        (5.0, 3.6, 0.05, 1.2),
        (5.0, 3.6, 0.10, 2.5),
    ],
)
def test_shortening_carries_half_a_millimetre_as_computed_by_hand(
    d_cm: float, s_cm: float, each_cm: float, points: float
) -> None:
    """By hand: u^2 = (s/d^2 u_d)^2 + (u_s/d)^2, in points of FS."""
    exam = exam_of(
        measured("LVIDd", d_cm, shares={"trace": each_cm / d_cm}),
        measured("LVIDs", s_cm, shares={"trace": each_cm / s_cm}),
    )
    assert index(exam, "FS").sd == pytest.approx(points, abs=0.06)


def test_a_share_of_error_in_speed_counts_twice_in_pressure() -> None:
    """By hand: 5 m/s with 5 % is 100 mmHg with 10 %."""
    found = index(exam_of(measured("MR_Vmax", 5.0, shares={"trace": 0.05})), "MR_PG")
    assert (found.value, found.sd) == pytest.approx((100.0, 10.0), rel=1e-3)


def test_another_sweep_moves_systole_and_diastole_together_by_half() -> None:
    share = {"acquisition": 0.05}
    together = [measured("LVIDd", 3.4, shares=share), measured("LVIDs", 2.1, shares=share)]
    apart = [together[0], measured("LVIDs", 2.1, shares=share, file="I2")]
    alone = index(exam_of(*apart), "FS").sd_total
    assert index(exam_of(*together), "FS").sd_total == pytest.approx(alone / sqrt(2), rel=1e-4)


def draw(generator: np.random.Generator, *values: float, rho: float = 0.5) -> list[np.ndarray]:
    """Draw values with all parts of `ALL_PARTS`: one scale, half a sweep in common."""
    shared_scale = generator.normal(0, ALL_PARTS["calibration"], DRAWS)
    shared_sweep = generator.normal(0, ALL_PARTS["acquisition"], DRAWS)
    drawn = []
    for value in values:
        own = sum(
            generator.normal(0, ALL_PARTS[part], DRAWS)
            for part in ("trace", "beats", "reading")
        )
        sweep = generator.normal(0, ALL_PARTS["acquisition"], DRAWS)
        sweep = sqrt(rho) * shared_sweep + sqrt(1 - rho) * sweep
        drawn.append(value * (1 + own + sweep + shared_scale))
    return drawn


def by_random(function: Callable[..., float], *draws: np.ndarray) -> float:
    return float(np.std([function(*row) for row in zip(*draws, strict=True)]))


def test_the_doubt_of_shortening_agrees_with_drawing_at_random() -> None:
    draws = draw(np.random.default_rng(1), 3.4, 2.1)
    pair = zip(("LVIDd", "LVIDs"), (3.4, 2.1), strict=True)
    exam = exam_of(*(measured(name, value, shares=ALL_PARTS) for name, value in pair))
    found = index(exam, "FS")
    assert found.sd_total == pytest.approx(by_random(fractional_shortening, *draws), rel=0.03)


def test_the_doubt_of_an_index_of_indices_agrees_with_drawing_at_random() -> None:
    def ejection(d_cm: float, s_cm: float) -> float:
        return ejection_fraction(teichholz_volume(d_cm), teichholz_volume(s_cm))

    draws = draw(np.random.default_rng(2), 3.4, 2.1)
    exam = exam_of(
        measured("LVIDd", 3.4, shares=ALL_PARTS), measured("LVIDs", 2.1, shares=ALL_PARTS)
    )
    found = index(exam, "EF_Teichholz")
    assert found.sd_total == pytest.approx(by_random(ejection, *draws), rel=0.04)


def test_the_doubt_of_mass_agrees_with_drawing_at_random() -> None:
    draws = draw(np.random.default_rng(3), 0.8, 3.6, 0.8, rho=0.0)
    parts = zip(("IVSd", "LVIDd", "LVPWd"), (0.8, 3.6, 0.8), strict=True)
    exam = exam_of(*(measured(name, value, shares=ALL_PARTS) for name, value in parts))
    found = index(exam, "LV_mass")
    assert found.sd_total == pytest.approx(by_random(ventricular_mass, *draws), rel=0.04)


def test_the_doubt_of_stroke_volume_agrees_with_drawing_at_random() -> None:
    generator = np.random.default_rng(4)
    wide, long = (draw(generator, value, rho=0.0)[0] for value in (1.3, 12.0))
    exam = exam_of(
        measured("LVOTd", 1.3, shares=ALL_PARTS, file="I1"),
        measured("AV_VTI", 12.0, shares=ALL_PARTS, file="I2"),
    )
    found = index(exam, "SV")
    assert found.sd_total == pytest.approx(by_random(stroke_volume, wide, long), rel=0.04)
