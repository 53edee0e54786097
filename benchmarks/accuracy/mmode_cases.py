"""M-modes of the phantom over weight, disease, rhythm, machine, layout and false lines."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from benchmarks.accuracy.case import BeatTruth, Case, Tracing
from benchmarks.accuracy.layout import LEFT, TOP, Look, Strip, grey_step, lay_out
from tableside.phantom.ecg import EcgStyle
from tableside.phantom.mmode import (
    MModePhantom,
    MModeSpec,
    annular_excursion,
    aorta_left_atrium,
    left_ventricle,
    mitral_valve,
)
from tableside.phantom.mmode_spec import tracing_beats
from tableside.phantom.rhythm import HeartBeat, complete_beats

S_PER_COLUMN_AT_50 = 0.0057  # 3.5 pixels a millimetre of sweep at 50 mm/s
SEEN_GREY = 10.0  # an edge that steps less than this cannot be read
EDGE_CM = 0.12  # over which the step of an edge is taken, in a dog of 10 kg
LEAST_BEATS, MOST_BEATS, MOST_COLUMNS = 2.3, 13.0, 1300

HEART = {
    "weight": ("3 kg", "8 kg", "15 kg", "30 kg", "55 kg", "cat 4 kg"),
    "disease": ("normal", "mitral moderate", "mitral severe", "dilated", "thick"),
    "rate": ("70", "110", "170"),
    "rhythm": ("sinus", "sinus arrhythmia", "atrial fibrillation", "premature beats"),
}
MACHINE = {
    "gain": ("-14 dB", "-7 dB", "0 dB", "0 dB", "+7 dB", "+14 dB"),
    "noise": ("34 dB", "28 dB", "22 dB", "16 dB"),
    "range": ("45 dB", "55 dB", "70 dB"),
    "pulse": ("3.5 MHz", "5 MHz", "7.5 MHz"),
    "rows": ("120", "200", "300", "500", "700"),
    "columns": ("450", "700", "1000"),
    "depth": ("usual", "usual", "deep"),
    "skin": ("at the top", "at the top", "lower"),
    "sweep": ("25 mm/s", "50 mm/s", "100 mm/s", "200 mm/s"),
    "jpeg": ("none", "90", "75"),
    "ecg": ("below", "below", "across", "above", "strip", "absent"),
    "colour": ("green", "yellow", "cyan", "magenta", "red", "white"),
    "words": ("no", "yes"),
}
HARDNESS = {
    "dropout": ("0", "0.03", "0.12", "0.25"),
    "breathing": ("0 mm", "1 mm", "3 mm"),
    "slant": ("0", "10", "20"),
    "off centre": ("0", "0", "0.25", "0.4"),
    "false lines": ("none", "none", "chorda", "papillary", "trabeculae", "chorda, trabeculae"),
    "right wall": ("seen", "seen", "not seen"),
}
LEVELS: Mapping[str, Sequence[str]] = {**HEART, **MACHINE, **HARDNESS}


@dataclass(frozen=True, slots=True, kw_only=True)
class Disease:
    """What a disease makes of a normal heart."""

    shortening: float
    enlargement: float
    wall: float
    gap_share: float  # of the diameter between E point and septum
    atrium: float  # left atrium over aorta


DISEASES = {
    "normal": Disease(shortening=0.36, enlargement=1.0, wall=1.0, gap_share=0.09, atrium=1.1),
    "mitral moderate": Disease(
        shortening=0.42, enlargement=1.2, wall=1.0, gap_share=0.07, atrium=1.6
    ),
    "mitral severe": Disease(
        shortening=0.48, enlargement=1.45, wall=0.95, gap_share=0.06, atrium=2.2
    ),
    "dilated": Disease(shortening=0.14, enlargement=1.4, wall=0.85, gap_share=0.27, atrium=1.5),
    "thick": Disease(shortening=0.40, enlargement=0.85, wall=1.35, gap_share=0.08, atrium=1.0),
}
# A cat's ventricle is narrower and thinner than that of a dog of its weight: 1.5 and 0.4 cm at
# 4 kg (common practice), against 2.2 and 0.54 by the dog's power law.
CAT = (0.70, 0.75)
MAKERS: Mapping[str, Callable[[MModeSpec, int], MModePhantom]] = {
    "left ventricle": left_ventricle,
    "mitral valve": mitral_valve,
    "aorta and left atrium": aorta_left_atrium,
    "tricuspid annulus": partial(annular_excursion, quantity="TAPSE"),
    "mitral annulus": partial(annular_excursion, quantity="MAPSE"),
}
# The two edges of each quantity and when they are read: at the beat's first or second phase.
EDGES = {
    "IVSd": ("septum right", "septum left", "d"),
    "IVSs": ("septum right", "septum left", "s"),
    "LVIDd": ("septum left", "wall endocardium", "d"),
    "LVIDs": ("septum left", "wall endocardium", "s"),
    "LVPWd": ("wall endocardium", "wall epicardium", "d"),
    "LVPWs": ("wall endocardium", "wall epicardium", "s"),
    "EPSS": ("septum left", "anterior mitral leaflet", "d"),
    "Ao": ("aorta anterior", "aorta posterior", "d"),
    "LA": ("aorta posterior", "left atrial wall", "s"),
    "ET": ("aorta anterior", "aorta posterior", "s"),
    "TAPSE": ("annulus", "annulus", "d"),
    "MAPSE": ("annulus", "annulus", "d"),
}
FALLING = ("septum left",)
SAME_BEAT_S = 0.12  # phases nearer than this belong to the same beat
NEEDS_ECG = ("Ao", "LA", "ET")  # their phases are those of the ECG


def make(case: Case) -> Tracing:
    """Make one M-mode of the design."""
    spec = spec_of(case)
    made = MAKERS[case.family](spec, case.seed)
    rng = np.random.default_rng(case.seed)
    beats = tracing_beats(spec.columns, spec.s_per_column, spec.heart_rate, spec.rhythm, rng)
    strip = Strip(
        pixels=made.pixels,
        s_per_column=made.s_per_column,
        per_row=made.cm_per_row,
        unit="cm",
        origin_row=made.skin_row,
        beats=beats,
        seed=case.seed,
    )
    image, pixels = lay_out(strip, look_of(case))
    return Tracing(
        case=case,
        image=image,
        pixels=pixels,
        left=LEFT,
        truth=made.truth,
        readable=_readable(case, made),
        edges={name: TOP + rows for name, rows in made.edges_row.items()},
        beats=_by_quantity(made, beats),
        r_columns=None if case.factors["ecg"] == "absent" else LEFT + made.r_columns,
        ecg_span=(LEFT, LEFT + spec.columns - 1),
    )


def spec_of(case: Case) -> MModeSpec:
    """Return what the phantom is asked for."""
    level = case.factors
    disease, cat = DISEASES[level["disease"]], level["weight"].startswith("cat")
    weight_kg = float(level["weight"].removeprefix("cat ").removesuffix(" kg"))
    rows, rate = int(level["rows"]), float(level["rate"])
    columns, s_per_column = width(level, rate)
    narrower, thinner = CAT if cat else (1.0, 1.0)
    cavity_cm = 1.38 * weight_kg**0.322 * disease.enlargement * narrower
    return MModeSpec(
        weight_kg=weight_kg,
        heart_rate=rate,
        rhythm=level["rhythm"],
        fractional_shortening=disease.shortening,
        enlargement=disease.enlargement * narrower,
        wall=disease.wall * thinner,
        epss_cm=disease.gap_share * cavity_cm,
        left_atrium_to_aorta=disease.atrium,
        excursion_cm=_excursion_cm(case, weight_kg),
        rows=rows,
        columns=columns,
        s_per_column=s_per_column,
        skin_row=0.0 if level["skin"] == "at the top" else round(0.08 * rows),
        frequency_mhz=float(level["pulse"].removesuffix(" MHz")),
        gain_db=float(level["gain"].removesuffix(" dB")),
        dynamic_range_db=float(level["range"].removesuffix(" dB")),
        snr_db=float(level["noise"].removesuffix(" dB")),
        dropout=float(level["dropout"]),
        chorda="chorda" in level["false lines"],
        papillary="papillary" in level["false lines"],
        trabeculae="trabeculae" in level["false lines"],
        right_ventricular_wall=level["right wall"] == "seen",
        respiration_mm=float(level["breathing"].removesuffix(" mm")),
        off_axis_deg=float(level["slant"]),
        off_centre=float(level["off centre"]),
        depth_share=1.5 if level["depth"] == "deep" else 1.0,
        ecg=None,
        ecg_style=EcgStyle(),
    )


def _excursion_cm(case: Case, weight_kg: float) -> float:
    """Return a normal excursion, less in a dilated heart, with some spread."""
    spread = float(np.random.default_rng(case.seed + 9).uniform(0.7, 1.25))
    usual_cm = 1.25 if case.family == "tricuspid annulus" else 0.85
    weak = 0.55 if case.factors["disease"] == "dilated" else 1.0
    return usual_cm * float((weight_kg / 10) ** (1 / 3)) * spread * weak


def width(level: Mapping[str, str], rate: float) -> tuple[int, float]:
    """Return columns and their time: at least two beats and a little, at most thirteen."""
    s_per_column = S_PER_COLUMN_AT_50 * 50 / float(level["sweep"].removesuffix(" mm/s"))
    beat = 60 / rate / s_per_column
    columns = float(np.clip(int(level["columns"]), LEAST_BEATS * beat, MOST_BEATS * beat))
    columns = min(max(columns, 240.0), float(MOST_COLUMNS))
    return round(columns), s_per_column


def look_of(case: Case, **labels: str) -> Look:
    """Return the layout of a case."""
    level = case.factors
    return Look(
        ecg=level["ecg"],
        colour=level["colour"],
        words=level["words"] == "yes",
        jpeg=None if level["jpeg"] == "none" else int(level["jpeg"]),
        label=f"{case.family} {case.number}",
        **(labels or {"mmode": case.family}),
    )


def _readable(case: Case, made: MModePhantom) -> frozenset[str]:
    """Return the quantities whose two edges step up in grey where they are read."""
    if not made.beats:
        return frozenset()
    reach_px = EDGE_CM * spec_of(case).size / made.cm_per_row
    seen = set()
    for name in made.truth:
        one, other, phase = EDGES[name]
        columns = np.array([getattr(beat, f"{phase}_column") for beat in made.beats])
        steps = [
            grey_step(
                made.pixels, made.edges_row[edge], columns, reach_px, falls=edge in FALLING
            )
            for edge in (one, other)
        ]
        lacks_ecg = name in NEEDS_ECG and case.factors["ecg"] == "absent"
        if min(steps) >= SEEN_GREY and not lacks_ecg:
            seen.add(name)
    return frozenset(seen)


def _by_quantity(
    made: MModePhantom, beats: tuple[HeartBeat, ...]
) -> Mapping[str, Sequence[BeatTruth]]:
    """Return the truth of every complete beat, by quantity."""
    whole = complete_beats(beats, (made.pixels.shape[1] - 1) * made.s_per_column)
    result: dict[str, list[BeatTruth]] = {}
    for beat, truth in zip(whole, made.beats, strict=True):
        for name, value in truth.values.items():
            at = truth.s_column if name.endswith("s") or name == "LA" else truth.d_column
            at_s = beat.ejection_s if name == "ET" else at * made.s_per_column
            near = BeatTruth(at_s - SAME_BEAT_S, at_s + SAME_BEAT_S, value)
            result.setdefault(name, []).append(near)
    return result
