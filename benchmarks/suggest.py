"""How well an unlabelled M-mode or spectrum is recognised: confusion, confidence, calibration.

Run: ``python -m benchmarks.suggest [--seeds 40] [--tuning]``. Every case is a made picture with
random animal, rate, rhythm, disease and machine. Seeds below 100,000 belong to tuning
(``--tuning``); the figures to report come from those above. A made picture is not a dog.
"""

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import argparse
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import exp, log

import cv2
import numpy as np

from tableside.automatic.suggest import judge, look
from tableside.automatic.suggest_model import load_kind
from tableside.model import (
    SOMETHING_ELSE,
    Axis,
    Image,
    Mode,
    Region,
    RegionKind,
    Rhythm,
    RWave,
    Suggestion,
)
from tableside.phantom.doppler import FlowSpec, spectrum
from tableside.phantom.mmode import MModeSpec, aorta_left_atrium, left_ventricle, mitral_valve
from tableside.phantom.types import Pixels

REPORTING = 100_000
RHYTHMS = ("sinus", "sinus", "sinus arrhythmia", "atrial fibrillation", "premature beats")
LEVELS = {
    "left ventricle": left_ventricle,
    "mitral valve": mitral_valve,
    "aorta and left atrium": aorta_left_atrium,
}
# First peak in m/s: the middle and the share by which two animals of three differ from it, wide
# enough to hold disease. Common practice; written apart from the thresholds of suggest.toml.
PEAKS_M_S = {
    "mitral inflow": (0.85, 0.28),
    "mitral regurgitation": (5.3, 0.14),
    "tricuspid inflow": (0.62, 0.25),
    "tricuspid regurgitation": (2.8, 0.27),
    "aortic outflow": (1.3, 0.22),
    "aortic regurgitation": (4.4, 0.14),
    "pulmonic outflow": (1.0, 0.20),
    "pulmonic regurgitation": (2.1, 0.28),
    "mitral annulus septal": (0.10, 0.25),
    "mitral annulus lateral": (0.13, 0.25),
}
VIEWS = {
    "left ventricle": "right parasternal short axis, papillary muscles",
    "mitral valve": "right parasternal short axis, mitral valve",
    "aorta and left atrium": "right parasternal short axis, heart base",
    "mitral inflow": "left apical, four chambers",
    "mitral regurgitation": "left apical, four chambers",
    "tricuspid inflow": "left cranial long axis, right atrium and auricle",
    "tricuspid regurgitation": "left cranial long axis, right atrium and auricle",
    "aortic outflow": "left apical, five chambers",
    "aortic regurgitation": "left apical, five chambers",
    "pulmonic outflow": "right parasternal short axis, pulmonary artery",
    "pulmonic regurgitation": "right parasternal short axis, pulmonary artery",
    "mitral annulus septal": "left apical, four chambers",
    "mitral annulus lateral": "left apical, four chambers",
}
BINS = (0.0, 0.4, 0.6, 0.8, 0.95, 1.01)
STENOSES = 0.2  # share of outflows that are narrow: 2 to 6 m/s, continuous wave


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One picture with its truth."""

    label: str
    seed: int
    image: Image
    pixels: Pixels
    rhythm: Rhythm | None


def mmode_case(label: str, seed: int) -> Case:
    """Return a made M-mode of one level."""
    rng = np.random.default_rng([seed, 1])
    spec = MModeSpec(
        weight_kg=float(exp(rng.uniform(log(2.5), log(60)))),
        heart_rate=float(rng.uniform(60, 190)),
        rhythm=str(rng.choice(RHYTHMS)),
        fractional_shortening=float(rng.uniform(0.14, 0.50)),
        enlargement=float(rng.uniform(0.9, 1.5)),
        wall=float(rng.uniform(0.75, 1.4)),
        epss_cm=None if rng.random() < 0.6 else float(rng.uniform(0.1, 1.4)),
        left_atrium_to_aorta=float(rng.uniform(0.9, 2.4)),
        rows=int(rng.choice([200, 300, 420])),
        columns=int(rng.choice([500, 700, 900])),
        s_per_column=float(rng.uniform(0.003, 0.006)),
        gain_db=float(rng.uniform(-8, 10)),
        dynamic_range_db=float(rng.uniform(45, 65)),
        snr_db=float(rng.uniform(16, 32)),
        dropout=float(rng.uniform(0, 0.2)),
        chorda=bool(rng.random() < 0.5),
        papillary=bool(rng.random() < 0.25),
        trabeculae=bool(rng.random() < 0.3),
        right_ventricular_wall=bool(rng.random() < 0.8),
        respiration_mm=float(rng.uniform(0, 3)),
        ecg=str(rng.choice(["below", "across"])) if rng.random() < 0.75 else None,
    )
    made = LEVELS[label](spec, seed)
    height, width = made.pixels.shape[:2]
    region = Region(
        index=0,
        kind=RegionKind.M_MODE,
        box=(0, 0, width - 1, height - 1),
        x=Axis(unit="s", per_pixel=made.s_per_column),
        y=Axis(unit="cm", per_pixel=made.cm_per_row),
    )
    image = _image(made.pixels, region, Mode.M_MODE)
    rhythm = _rhythm(made.r_columns, region) if spec.ecg else None
    return Case(label=label, seed=seed, image=image, pixels=made.pixels, rhythm=rhythm)


def flow_case(label: str, seed: int) -> Case:
    """Return a made spectrum of one flow."""
    rng = np.random.default_rng([seed, 2])
    peaks, continuous = _peaks(label, rng)
    columns = int(rng.choice([500, 700, 900]))
    spec = FlowSpec(
        flow=label,
        peaks_m_s=peaks,
        heart_rate=float(rng.uniform(60, 190)),
        rhythm=str(rng.choice(RHYTHMS)),
        deceleration_s=float(rng.uniform(0.06, 0.14)),
        half_time_s=float(rng.uniform(0.15, 0.6)),
        rows=int(rng.choice([200, 260, 340])),
        columns=columns,
        s_per_column=float(rng.uniform(0.003, 0.006)),
        gain_db=float(rng.uniform(-8, 8)),
        snr_db=float(rng.uniform(16, 30)),
        dynamic_range_db=float(rng.uniform(30, 42)),
        mirror_db=float(rng.uniform(8, 20)) if rng.random() < 0.15 else None,
        incomplete=float(rng.uniform(0, 0.2)) if rng.random() < 0.15 else 0.0,
        clicks=bool(rng.random() < 0.6),
        ecg=bool(rng.random() < 0.75),
    )
    made = spectrum(spec, seed)
    height, width = made.pixels.shape[:2]
    region = Region(
        index=0,
        kind=RegionKind.SPECTRAL,
        box=(0, 0, width - 1, height - 1),
        x=Axis(unit="s", per_pixel=made.s_per_column),
        y=Axis(unit="m/s", per_pixel=-made.m_s_per_row, origin_px=made.baseline_row),
        wave="continuous" if continuous else "pulsed",
    )
    image = _image(made.pixels, region, Mode.SPECTRAL)
    rhythm = _rhythm(made.r_columns, region) if spec.ecg else None
    return Case(label=label, seed=seed, image=image, pixels=made.pixels, rhythm=rhythm)


def _peaks(label: str, rng: np.random.Generator) -> tuple[tuple[float, ...], bool]:
    """Return the peaks of a flow, and whether it was recorded with continuous wave."""
    middle, share = PEAKS_M_S[label]
    first = middle * exp(share * float(np.clip(rng.normal(), -2.5, 2.5)))
    if "inflow" in label:
        return (first, first * float(rng.uniform(0.45, 1.4))), False
    if "annulus" in label:
        return (
            first,
            first * float(rng.uniform(0.6, 1.3)),
            first * float(rng.uniform(0.5, 1.1)),
        ), False
    if "outflow" in label:
        narrow = rng.random() < STENOSES
        return ((float(rng.uniform(2, 6)) if narrow else first),), bool(narrow)
    if label == "pulmonic regurgitation":
        return (first, first * float(rng.uniform(0.35, 0.75))), True
    return (first,), True


def _image(pixels: Pixels, region: Region, mode: Mode) -> Image:
    rows, columns = pixels.shape[:2]
    return Image(file="made.dcm", mode=mode, rows=rows, columns=columns, regions=(region,))


def _rhythm(r_columns: "np.typing.NDArray[np.float64]", region: Region) -> Rhythm:
    waves = tuple(
        RWave(column=float(x), time_s=region.seconds_from_left(float(x))) for x in r_columns
    )
    return Rhythm(r_waves=waves)


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What was suggested for one case; None when nothing could be looked at."""

    label: str
    has_ecg: bool
    has_view: bool
    given: Suggestion | None

    @property
    def first(self) -> str:
        """The likeliest label."""
        return self.given.likeliest[0][0] if self.given else "cannot tell"

    @property
    def is_certain(self) -> bool:
        """Whether it would be measured unasked."""
        return self.given is not None and self.given.certain is not None


def answers(kind: str, seeds: Sequence[int]) -> Iterator[Answer]:
    """Yield what is suggested for every label and seed, without and with the view label."""
    make = mmode_case if kind == "mmode" else flow_case
    for label in load_kind(kind).labels:
        for seed in seeds:
            case = make(label, seed)
            found = look(case.image, case.pixels, case.rhythm)
            for view in (None, VIEWS[label]):
                image = replace(case.image, view=view)
                yield Answer(
                    label=label,
                    has_ecg=case.rhythm is not None,
                    has_view=view is not None,
                    given=judge(image, *found) if found else None,
                )


def print_confusion(kind: str, found: Sequence[Answer]) -> None:
    labels = load_kind(kind).labels
    columns = (*labels, SOMETHING_ELSE, "cannot tell")
    print(
        f"{'truth':25}" + "".join(f"{_short(one):>7}" for one in columns) + "   certain  wrong"
    )
    for label in labels:
        mine = [one for one in found if one.label == label]
        count = Counter(one.first for one in mine)
        certain = [one for one in mine if one.is_certain]
        wrong = sum(one.first != label for one in certain)
        print(
            f"{label:25}"
            + "".join(f"{count[one] or '':>7}" for one in columns)
            + f"{len(certain) / len(mine):>9.0%}{wrong:>7}"
        )


def print_reliability(found: Sequence[Answer]) -> None:
    """Print stated probability against the share that was right."""
    given = [one for one in found if one.given is not None]
    stated = np.array([one.given.likeliest[0][1] for one in given if one.given])
    right = np.array([one.first == one.label for one in given])
    for low, high in pairwise(BINS):
        inside = (stated >= low) & (stated < high)
        if inside.any():
            print(
                f"  stated {stated[inside].mean():.2f}, right {right[inside].mean():.2f} "
                f"of {inside.sum()}"
            )


def _short(label: str) -> str:
    return "".join(word[:3].capitalize() for word in label.split()[-2:])


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=40, help="cases a label")
    parser.add_argument("--tuning", action="store_true", help="the seeds that set `temper`")
    parser.add_argument("--kind", choices=("mmode", "flow"), action="append")
    given = parser.parse_args()
    cv2.setNumThreads(1)
    first = 0 if given.tuning else REPORTING
    for kind in given.kind or ("mmode", "flow"):
        found = list(answers(kind, range(first, first + given.seeds)))
        for has_view in (False, True):
            mine = [one for one in found if one.has_view is has_view]
            print(f"\n{kind}, {'its view given' if has_view else 'no view given'}")
            print_confusion(kind, mine)
            for has_ecg in (True, False):
                part = [one for one in mine if one.has_ecg is has_ecg]
                certain = [one for one in part if one.is_certain]
                wrong = sum(one.first != one.label for one in certain)
                print(
                    f"  {'with' if has_ecg else 'without'} ECG: {len(certain)} of {len(part)} "
                    f"certain, {wrong} of them wrong"
                )
            print_reliability(mine)


if __name__ == "__main__":
    main()
