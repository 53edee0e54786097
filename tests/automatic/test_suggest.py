"""Unlabelled images: what is suggested, and that a wrong label is never used unasked.

Expected values: the labels of `README.md` beside the real files (what each file shows); Bayes'
rule with normal densities from scipy; the labels that made pictures were made with, on seeds
that set no threshold (the tuning seeds lie below 100,000).
"""

from dataclasses import replace
from math import sqrt
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from scipy.stats import norm

from tableside.automatic.ecg import read_ecg
from tableside.automatic.suggest import judge, labelled, look, suggest
from tableside.automatic.suggest_model import (
    SUGGESTED_LEVELS,
    Feature,
    Kind,
    Shape,
    load_kind,
    weigh,
)
from tableside.errors import DataError
from tableside.intake import open_study
from tableside.model import (
    FLOWS,
    SOMETHING_ELSE,
    VIEWS,
    Axis,
    Image,
    Mode,
    Region,
    RegionKind,
    Rhythm,
    Suggestion,
)
from tableside.phantom.types import Pixels

ROOT = Path(__file__).resolve().parents[2]
SEEDS = range(200_000, 200_004)
ALIKE = (
    {"mitral inflow", "tricuspid inflow"},
    {"aortic outflow", "pulmonic outflow"},
    {"mitral annulus septal", "mitral annulus lateral"},
)


@pytest.fixture(scope="module")
def bench() -> ModuleType:
    """The makers of random cases."""
    with pytest.MonkeyPatch.context() as patch:
        patch.syspath_prepend(str(ROOT))
        from benchmarks import suggest as made  # noqa: PLC0415
    return made


@pytest.fixture(scope="module")
def answers(bench: ModuleType) -> list:
    return [one for kind in ("mmode", "flow") for one in bench.answers(kind, SEEDS)]


def real(folder: Path, name: str) -> tuple[Image, Pixels, Rhythm | None]:
    with open_study(folder / name) as opened:
        image = opened.study.images[0]
        pixels = opened.frame(image.file, image.frames - 1)
    return image, pixels, read_ecg(image, pixels)[0]


def blank(pixels: Pixels, kind: RegionKind = RegionKind.M_MODE) -> Image:
    rows, columns = pixels.shape[:2]
    mode = Mode.M_MODE if kind is RegionKind.M_MODE else Mode.SPECTRAL
    y = Axis(unit="cm", per_pixel=0.02)
    if mode is Mode.SPECTRAL:
        y = Axis(unit="m/s", per_pixel=-0.01, origin_px=rows // 2)
    region = Region(
        index=0,
        kind=kind,
        box=(0, 0, columns - 1, rows - 1),
        x=Axis(unit="s", per_pixel=0.004),
        y=y,
    )
    return Image(file="a.dcm", mode=mode, rows=rows, columns=columns, regions=(region,))


def test_the_real_mmode_through_the_mitral_valve_is_read_as_one(shared_data: Path) -> None:
    image, pixels, rhythm = real(shared_data, "human-echo/I_000034.dcm")
    found = suggest(image, pixels, rhythm)
    assert found is not None
    assert found.likeliest[0][0] == "mitral valve"
    assert found.certain in ("mitral valve", None)
    assert found.probabilities["mitral valve"] > 0.9


@pytest.mark.parametrize("number", [38, 39])
def test_the_real_tissue_spectra_are_of_the_annulus_and_wait_for_their_side(
    shared_data: Path, number: int
) -> None:
    image, pixels, rhythm = real(shared_data, f"human-echo/I_0000{number}.dcm")
    for known in (rhythm, None):
        found = suggest(image, pixels, known)
        assert found is not None and found.certain is None
        sides = ("mitral annulus septal", "mitral annulus lateral")
        assert sum(found.probabilities[side] for side in sides) > 0.9
        assert max(found.probabilities[side] for side in sides) < 0.8
        note = labelled(image, found).notes[-1]
        assert "waits for its label" in note and all(side in note for side in sides)


def test_a_real_colour_mmode_is_never_read_as_walls(shared_data: Path) -> None:
    image, pixels, rhythm = real(shared_data, "pig-mmode/vivid7_pig_colour_mmode.dcm")
    assert suggest(image, pixels, rhythm) is None
    plain = tuple(
        replace(one, kind=RegionKind.M_MODE) if one.kind is RegionKind.COLOUR_M_MODE else one
        for one in image.regions
    )
    found = suggest(replace(image, regions=plain), pixels, rhythm)
    assert found is None or found.certain is None


def test_a_certain_label_is_wrong_in_at_most_one_of_a_hundred(answers: list) -> None:
    certain = [one for one in answers if one.is_certain]
    wrong = [one for one in certain if one.first != one.label]
    assert len(wrong) <= 0.01 * len(certain), [(one.label, one.first) for one in wrong]


def test_most_mmodes_are_certain_and_the_first_guess_is_mostly_right(answers: list) -> None:
    mine = [one for one in answers if one.label in SUGGESTED_LEVELS]
    assert np.mean([one.is_certain for one in mine]) > 0.6
    assert np.mean([one.first == one.label for one in mine]) > 0.9


def test_what_looks_alike_is_never_certain_without_a_view(answers: list) -> None:
    pairs = [one for one in answers if not one.has_view and any(one.label in p for p in ALIKE)]
    assert len(pairs) == 6 * len(SEEDS)  # six of the ten flows
    assert not [(one.label, one.first) for one in pairs if one.is_certain]


def test_a_flow_and_its_double_are_found_together(answers: list) -> None:
    pairs = [one for one in answers if not one.has_view and any(one.label in p for p in ALIKE)]
    found = [one.first in next(p for p in ALIKE if one.label in p) for one in pairs]
    assert np.mean(found) > 0.85


def test_stated_probabilities_agree_with_the_share_that_is_right(answers: list) -> None:
    given = [one for one in answers if not one.has_view and one.given is not None]
    stated = np.array([one.given.likeliest[0][1] for one in given])
    right = np.array([one.first == one.label for one in given])
    for low, high in ((0.0, 0.7), (0.7, 0.95), (0.95, 1.01)):
        inside = (stated >= low) & (stated < high)
        count = int(inside.sum())
        assert count >= 5
        p = float(stated[inside].mean())
        # three standard errors of a share, and a twentieth for the spread within the bin
        assert abs(right[inside].mean() - p) < 3 * sqrt(p * (1 - p) / count) + 0.05


def test_probabilities_hold_every_label_and_add_to_one(answers: list) -> None:
    for one in answers:
        if one.given is None:
            continue
        labels = SUGGESTED_LEVELS if one.given.kind == "mmode" else FLOWS
        assert set(one.given.probabilities) == {*labels, SOMETHING_ELSE}
        assert sum(one.given.probabilities.values()) == pytest.approx(1.0)
        assert min(one.given.probabilities.values()) > 0


def test_the_view_parts_what_shape_cannot(bench: ModuleType) -> None:
    case = bench.flow_case("mitral inflow", 200_003)
    without = suggest(case.image, case.pixels, case.rhythm)
    viewed = replace(case.image, view="left apical, two chambers")
    with_view = suggest(viewed, case.pixels, case.rhythm)
    assert without is not None and with_view is not None
    assert without.probabilities["mitral inflow"] < 0.9
    assert with_view.probabilities["mitral inflow"] > 0.9
    assert any("the view is" in reason for reason in with_view.evidence)


@pytest.mark.parametrize("label", SUGGESTED_LEVELS)
def test_a_dim_mmode_is_not_read_wrongly(bench: ModuleType, label: str) -> None:
    case = bench.mmode_case(label, 200_001)
    dim = (case.pixels * 0.3).astype(np.uint8)
    found = suggest(case.image, dim, case.rhythm)
    assert found is None or found.certain in (label, None)


@pytest.mark.parametrize("label", ["mitral regurgitation", "pulmonic regurgitation"])
def test_without_an_ecg_timing_says_nothing_and_nothing_breaks(
    bench: ModuleType, label: str
) -> None:
    case = bench.flow_case(label, 200_002)
    _, features = look(case.image, case.pixels, None)
    assert not {"centre", "onset_s"} & features.keys()
    found = suggest(case.image, case.pixels, None)
    assert found is not None and found.certain in (label, None)


def test_the_order_of_images_and_of_features_changes_nothing(bench: ModuleType) -> None:
    one, other = (
        bench.flow_case(FLOWS[1], 200_004),
        bench.mmode_case(SUGGESTED_LEVELS[0], 200_004),
    )
    before = [suggest(c.image, c.pixels, c.rhythm) for c in (one, other)]
    after = [suggest(c.image, c.pixels, c.rhythm) for c in (other, one)]
    assert before == after[::-1]
    kind, features = look(one.image, one.pixels, one.rhythm)
    turned = dict(reversed(features.items()))
    assert judge(one.image, kind, turned).probabilities == pytest.approx(
        judge(one.image, kind, features).probabilities
    )


def test_an_empty_a_noisy_and_a_still_region_give_no_suggestion() -> None:
    rng = np.random.default_rng(3)
    noise = rng.integers(0, 120, (300, 500), dtype=np.uint8)
    layers = np.repeat((np.arange(300) // 30 % 2 * 120).astype(np.uint8)[:, None], 500, axis=1)
    still = layers + rng.integers(0, 30, layers.shape, dtype=np.uint8)
    for pixels in (np.zeros((300, 500), np.uint8), noise, still):
        assert suggest(blank(pixels), pixels, None) is None
    dark = np.zeros((300, 500), np.uint8)
    assert suggest(blank(dark, RegionKind.SPECTRAL), dark, None) is None
    small = np.ones((20, 20), np.uint8)
    assert suggest(blank(small), small, None) is None


def test_a_label_of_the_worksheet_and_a_doubt_both_end_the_guessing(bench: ModuleType) -> None:
    case = bench.mmode_case("left ventricle", 200_000)
    named = replace(case.image, mmode="mitral valve")
    assert suggest(named, case.pixels, case.rhythm) is None
    doubted = replace(case.image, doubt="the picture was shrunk")
    assert suggest(doubted, case.pixels, case.rhythm) is None
    assert suggest(replace(case.image, regions=()), case.pixels, case.rhythm) is None


def test_a_certain_label_is_put_on_the_image_with_a_note() -> None:
    image = blank(np.zeros((300, 500), np.uint8))
    sure = Suggestion(
        kind="mmode",
        probabilities={"mitral valve": 0.97, "left ventricle": 0.02, SOMETHING_ELSE: 0.01},
        evidence=("a leaflet",),
        certain="mitral valve",
    )
    named = labelled(image, sure)
    assert named.mmode == "mitral valve" and named.flow is None
    assert "read as mitral valve M-mode with probability 0.97" in named.notes[-1]
    assert "the worksheet can say otherwise" in named.notes[-1]
    waiting = labelled(image, replace(sure, certain=None))
    assert waiting.mmode is None
    assert "mitral valve (0.97)" in waiting.notes[-1]
    assert "left ventricle (0.02)" in waiting.notes[-1]
    assert labelled(image, None) == image


def two_labels() -> Kind:
    return Kind(
        labels=("a", "b"),
        features={"x": Feature(low=-10.0, high=10.0, words="{value}")},
        shapes=(
            Shape(label="a", probability=1.0, expected={"x": (0.0, 1.0)}),
            Shape(label="b", probability=1.0, expected={"x": (2.0, 1.5)}),
        ),
        views={"v": {"a": 1.0, "b": 0.1}},
        temper=1.0,
        share_else=0.2,
        misread=0.0,
        doubt=0.0,
        certainty=0.95,
    )


@pytest.mark.parametrize(
    ("x", "view", "weight"), [(0.4, None, 1.0), (1.7, None, 1.0), (1.7, "v", 0.1)]
)
def test_probabilities_follow_bayes_rule(x: float, view: str | None, weight: float) -> None:
    a = 0.4 * norm.pdf(x, 0.0, 1.0)
    b = 0.4 * weight * norm.pdf(x, 2.0, 1.5)
    other = 0.2 / 20.0
    found = weigh(two_labels(), {"x": x}, view).probabilities
    assert found["a"] == pytest.approx(a / (a + b + other))
    assert found["b"] == pytest.approx(b / (a + b + other))


def test_what_nobody_expects_is_something_else_and_one_misreading_decides_nothing() -> None:
    far = weigh(two_labels(), {"x": 9.5}, None).probabilities
    assert far[SOMETHING_ELSE] > 0.9
    forgiving = replace(two_labels(), misread=0.06)
    assert weigh(forgiving, {"x": -1e6}, None).probabilities["a"] > 0.01


def test_what_could_not_be_read_says_nothing() -> None:
    nothing = weigh(two_labels(), {}, None).probabilities
    assert nothing == pytest.approx({"a": 0.4, "b": 0.4, SOMETHING_ELSE: 0.2})
    assert weigh(two_labels(), {"x": float("nan")}, None).probabilities == nothing


@pytest.mark.parametrize("name", ["mmode", "flow"])
def test_every_view_of_the_contract_has_its_place_in_the_thresholds(name: str) -> None:
    kind = load_kind(name)
    assert set(kind.views) == set(VIEWS)
    assert kind.certainty == 0.95
    used = {feature for shape in kind.shapes for feature in shape.expected}
    assert used == set(kind.features)


def test_shapes_that_do_not_add_to_one_are_refused() -> None:
    from tableside.automatic.suggest_model import _require_whole  # noqa: PLC0415

    half = Shape(label="a", probability=0.5, expected={})
    with pytest.raises(DataError, match="not to 1"):
        _require_whole(("a",), (half,))
