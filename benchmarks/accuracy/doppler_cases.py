"""Spectra of the phantom over flow, angle, machine, layout, folding and lost tops."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from benchmarks.accuracy.case import BeatTruth, Case, Tracing
from benchmarks.accuracy.layout import LEFT, TOP, Strip, lay_out
from benchmarks.accuracy.mmode_cases import look_of, width
from tableside.phantom.doppler import DopplerPhantom, FlowSpec, spectrum
from tableside.phantom.flow import flow_kind
from tableside.phantom.mmode_spec import is_usual
from tableside.phantom.rhythm import HeartBeat, complete_beats, heart_beats

FLOWS = (
    "mitral inflow", "mitral regurgitation", "tricuspid regurgitation", "aortic outflow",
    "aortic regurgitation", "pulmonic outflow", "pulmonic regurgitation",
    "mitral annulus septal", "mitral annulus lateral",
)  # fmt: skip
LEVELS: Mapping[str, Sequence[str]] = {
    "flow": FLOWS,
    "strength": ("0.7", "1", "1.3", "1.8"),
    "angle": ("0", "20", "40", "60"),
    "rate": ("70", "110", "170"),
    "rhythm": ("sinus", "sinus arrhythmia", "atrial fibrillation", "premature beats"),
    "deceleration": ("60 ms", "85 ms", "140 ms"),
    "gain": ("-10 dB", "-5 dB", "0 dB", "0 dB", "+6 dB", "+12 dB"),
    "noise": ("30 dB", "24 dB", "18 dB", "12 dB"),
    "range": ("28 dB", "36 dB", "50 dB"),
    "rows": ("140", "200", "260", "400"),
    "columns": ("450", "700", "1000"),
    "sweep": ("25 mm/s", "50 mm/s", "100 mm/s", "200 mm/s"),
    "scale": ("fits", "fits", "fits", "wide", "tight", "folds", "folds much"),
    "top": ("whole", "whole", "whole", "whole", "lost 0.15", "lost 0.3"),
    "mirror": ("none", "none", "20 dB", "12 dB"),
    "clicks": ("yes", "no"),
    "wall filter": ("usual", "usual", "high"),
    "broadening": ("0.015", "0.03", "0.06"),
    "baseline line": ("yes", "no"),
    "jpeg": ("none", "90", "75"),
    "ecg": ("below", "below", "above", "strip", "absent"),
    "colour": ("green", "yellow", "cyan", "magenta", "red", "white"),
    "words": ("no", "yes"),
}
# How far the peak reaches on its side of the baseline, as a share of the room there.
REACH = {"fits": 0.75, "wide": 0.4, "tight": 0.97, "folds": 1.1, "folds much": 1.25}
SEEN_GREY = 20.0
# A reading belongs to the beat in whose span it lies; that of a diastolic flow begins later.
DIASTOLIC = ("E", "A", "DT", "E'", "A'", "AR_Vmax", "AR_PHT", "PR_Vmax", "PR_Vend")
DIASTOLIC_S, SYSTOLIC_S = 0.08, 0.06
VALLEY = 0.8  # waves that do not part below this share of the smaller one are fused
NOT_MEASURED = {"aortic outflow": ("AT",)}


def make(case: Case) -> Tracing:
    """Make one spectrum of the design."""
    spec = spec_of(case)
    made = spectrum(spec, case.seed)
    duration_s = spec.columns * spec.s_per_column
    rng = np.random.default_rng(case.seed)
    beats = heart_beats(duration_s, spec.heart_rate, spec.rhythm, rng)
    strip = Strip(
        pixels=made.pixels,
        s_per_column=made.s_per_column,
        per_row=made.m_s_per_row,
        unit="m/s",
        origin_row=made.baseline_row,
        beats=beats,
        seed=case.seed,
    )
    kind = flow_kind(spec.flow)
    wave = "continuous" if kind.continuous else "pulsed"
    image, pixels = lay_out(strip, look_of(case, flow=spec.flow, wave=wave))
    skipped = NOT_MEASURED.get(spec.flow, ())
    truth = {name: value for name, value in made.truth.items() if name not in skipped}
    is_cut = kind.continuous and case.factors["scale"].startswith("folds")
    edge = TOP + made.baseline_row - made.velocity_m_s / made.m_s_per_row
    return Tracing(
        case=case,
        image=image,
        pixels=pixels,
        left=LEFT,
        truth=truth,
        readable=_readable(case, made, (spec, beats)),
        edges={"flow": edge},
        beats=_by_quantity(made, beats),
        r_columns=None if case.factors["ecg"] == "absent" else LEFT + made.r_columns,
        ecg_span=(LEFT, LEFT + spec.columns - 1),
        is_incomplete=is_cut or spec.incomplete > 0,
    )


def spec_of(case: Case) -> FlowSpec:
    """Return what the phantom is asked for."""
    level = case.factors
    kind = flow_kind(level["flow"])
    rate = float(level["rate"])
    columns, s_per_column = width(level, rate)
    top, filtered = level["top"], level["wall filter"] == "high"
    rng = np.random.default_rng(case.seed + 5)
    spread = [float(rng.uniform(0.8, 1.25)) for _ in kind.peaks_m_s]
    strength = float(level["strength"])
    if level["flow"] == "pulmonic regurgitation":
        spread[1] = spread[0]  # the end must stay below the start
    peaks = tuple(
        strength * share * peak for share, peak in zip(spread, kind.peaks_m_s, strict=True)
    )
    cut_m_s = (0.4 if kind.continuous else 0.14) if filtered and not kind.tissue else None
    spec = FlowSpec(
        flow=level["flow"],
        peaks_m_s=peaks,
        heart_rate=rate,
        rhythm=level["rhythm"],
        angle_deg=float(level["angle"]),
        deceleration_s=float(level["deceleration"].removesuffix(" ms")) / 1000,
        half_time_s=0.35,
        rows=int(level["rows"]),
        columns=columns,
        s_per_column=s_per_column,
        gain_db=float(level["gain"].removesuffix(" dB")),
        dynamic_range_db=float(level["range"].removesuffix(" dB")),
        snr_db=float(level["noise"].removesuffix(" dB")),
        wall_filter_m_s=cut_m_s,
        broadening=float(level["broadening"]),
        clicks=level["clicks"] == "yes",
        mirror_db=None if level["mirror"] == "none" else float(level["mirror"][:2]),
        incomplete=0.0 if top == "whole" else float(top.removeprefix("lost ")),
        baseline_drawn=level["baseline line"] == "yes",
        ecg=False,
    )
    scale = level["scale"]
    if kind.both_sides and scale.startswith("folds"):
        scale = "tight"  # nobody stores a folded annulus: its waves overlap
    return _scaled(spec, REACH[scale])


def _scaled(spec: FlowSpec, reach: float) -> FlowSpec:
    """Set the scale so that the peak reaches that share of its side."""
    kind = flow_kind(spec.flow)
    baseline = 0.5 if kind.both_sides else 0.5 + 0.26 * kind.sign
    room = baseline if kind.sign > 0 else 1 - baseline
    peak_m_s = max(spec.course.peaks_m_s) * spec.cosine
    return replace(spec, baseline=baseline, scale_m_s=peak_m_s / (reach * room))


def _by_quantity(
    made: DopplerPhantom, beats: tuple[HeartBeat, ...]
) -> Mapping[str, Sequence[BeatTruth]]:
    """Return the truth of every complete beat, by quantity."""
    whole = complete_beats(beats, (made.pixels.shape[1] - 1) * made.s_per_column)
    result: dict[str, list[BeatTruth]] = {}
    for beat, values in zip(whole, made.beats, strict=True):
        for name, value in values.items():
            early = DIASTOLIC_S if name in DIASTOLIC else -SYSTOLIC_S
            span = BeatTruth(beat.onset_s + early, beat.end_s + early, value)
            result.setdefault(name, []).append(span)
    return result


def _readable(
    case: Case, made: DopplerPhantom, given: tuple[FlowSpec, tuple[HeartBeat, ...]]
) -> frozenset[str]:
    """Return what a careful reader could read: a flow that stands out, waves that part."""
    if not made.truth or _grey_step(made) < SEEN_GREY:
        return frozenset()
    hidden = _fused(*given)
    if case.factors["ecg"] == "absent":
        hidden |= {"PEP"}
    return frozenset(made.truth) - hidden


def _grey_step(made: DopplerPhantom) -> float:
    """Return how much brighter the flow is inside its edge than half outside it."""
    size = np.abs(made.velocity_m_s)
    columns = np.flatnonzero(size > 0.7 * size.max())
    inside = _mean_grey(made, columns, (0.78, 0.97))
    outside = _mean_grey(made, columns, (1.12, 1.3))
    return inside - outside


def _mean_grey(
    made: DopplerPhantom, columns: NDArray[np.int64], span: tuple[float, float]
) -> float:
    rows, found = made.pixels.shape[0], []
    for column in columns:
        height = made.velocity_m_s[column] / made.m_s_per_row
        at = made.baseline_row - height * np.linspace(*span, 7)
        found.append(made.pixels[np.round(at).astype(int) % rows, column].mean())
    return float(np.mean(found))


def _fused(spec: FlowSpec, beats: tuple[HeartBeat, ...]) -> set[str]:
    """Return the waves that do not part in most usual beats."""
    names = {"mitral inflow": ("E", "A", "DT"), "mitral annulus septal": ("E'", "A'"),
             "mitral annulus lateral": ("E'", "A'")}.get(spec.flow)  # fmt: skip
    if names is None:
        return set()
    usual = [
        beat
        for beat in complete_beats(beats, spec.columns * spec.s_per_column)
        if is_usual(beat) and beat.atrial
    ]
    if not usual:
        return set()
    fused = float(np.median([_valley(spec, beat) for beat in usual]))
    if fused > VALLEY:
        return set(names)
    return {"DT"} if fused > 0.5 else set()


def _valley(spec: FlowSpec, beat: HeartBeat) -> float:
    """Return the lowest point between early and atrial wave, as a share of the smaller one."""
    peaks = spec.course.peaks_m_s
    early, late = peaks[-2], peaks[-1]
    is_tissue = len(peaks) == 3
    rise_s = 0.035 if is_tissue else 0.050
    fall_s = spec.deceleration_s * (0.6 if is_tissue else 1.0)
    time_s = np.arange(beat.filling_s + rise_s, 0.5 * (beat.kick_s + beat.end_s), 0.001)
    if len(time_s) < 2:
        return 1.0
    first = early * np.clip(1 - (time_s - beat.filling_s - rise_s) / fall_s, 0, 1)
    share = np.clip((time_s - beat.kick_s) / (beat.end_s + 0.015 - beat.kick_s), 0, 1)
    both = np.maximum(first, late * np.sin(np.pi * share))
    return float(both.min()) / min(early, late)
