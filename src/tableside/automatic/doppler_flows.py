"""What each flow gives, beat by beat: the readers that `doppler` chooses from."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import hypot

from tableside.automatic.doppler_beats import (
    acceleration_beat,
    area_beat,
    deceleration_beat,
    duration_beat,
    early_peak_beat,
    mean_gradient_beat,
    peak_beat,
    rise_beat,
)
from tableside.errors import NotMeasurable
from tableside.imaging.beats import classify_beats
from tableside.imaging.cycles import (
    AFTER_SYSTOLE_S,
    BEFORE_JET_S,
    BEFORE_OUTFLOW_S,
    BeatWindow,
    beat_windows,
    diastolic_wave,
    filling_waves,
    r_from_filling,
    r_from_single_waves,
    systolic_wave,
)
from tableside.imaging.slopes import long_fall
from tableside.imaging.types import Bools
from tableside.imaging.waves import Curve, Wave
from tableside.measure.doppler import (
    Ruler,
    Use,
    half_time_beat,
    time_beat,
    velocity_beat,
)
from tableside.model import Beat, Rhythm

QRS_TO_R_S, QRS_TO_R_SD_S = 0.022, 0.005  # onset of the QRS complex before R; memory
SOFT_TOP = 0.09  # an edge wider than this share of the peak: the top is not wholly heard
OVERLAP = 0.5  # A that begins on E above this share of its own height is not A alone
HALF_TIME_SD = 0.03  # of a half-time: the straight line is a model
TIP = 1.04  # a leak begins with a sharp tip: its fall drawn back may exceed the top by this

NEAR_TOP = 0.8  # of the peak: only there may the end of the scale cut a wave
LEAST_AT_END = 2  # columns in which a wave is bright up to the end of the scale
# share of a wave's upper half that lies within 7 % of its peak: a half sine has 0.36, the jet
# of an atrioventricular valve 0.6 (both computed from their shapes); leaks may be flat
FLAT_TOP = {
    "mitral inflow": 0.48,
    "aortic outflow": 0.48,
    "pulmonic outflow": 0.48,
    "mitral regurgitation": 0.72,
    "tricuspid regurgitation": 0.72,
}
SLOWER = "repeat at a slower heart rate"
FLAT = (
    "the top of the envelope is flat: its fastest part is not heard, the true peak can only be "
    "higher; align the beam and raise the gain"
)
PAST_SCALE = "the flow reaches past the scale: the true peak is higher"
CUT = "cut by the edge of the picture"
CUT_SHORT = "cut short by a premature beat"


@dataclass(frozen=True, slots=True)
class Found:
    """The beats of one quantity; ``after`` is one without which it is not believed."""

    quantity: str
    beats: tuple[Beat, ...]
    detail: str | None = None
    bound: str | None = None
    after: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """All that a reader needs, by side of the baseline (1 above, -1 below)."""

    flow: str
    rulers: Mapping[int, Ruler]
    curves: Mapping[int, Curve]
    waves: Mapping[int, Sequence[Wave]]
    beats: Sequence[BeatWindow]
    rhythm: Rhythm | None
    is_cut: bool
    at_end: Mapping[int, Bools]  # columns in which the flow reaches the end of the scale

    @property
    def sign(self) -> int:
        """The side of a flow that has one."""
        return next(iter(self.waves))

    @property
    def s_per_column(self) -> float:
        """Time scale of the tracing."""
        return self.rulers[self.sign].region.s_per_column

    def windows(self, r_columns: Sequence[float]) -> list[BeatWindow]:
        """Return the beats by ECG, else those that the waves themselves give."""
        if self.beats:
            return list(self.beats)
        windows = beat_windows(r_columns, self.curves[self.sign].columns, self.s_per_column)
        times_s = [column * self.s_per_column for column in r_columns]
        reasons, _ = classify_beats(times_s, [1.0] * len(times_s))
        following = [*reasons[1:], None]
        cut = [CUT_SHORT if after == "premature beat" else None for after in following]
        return [
            replace(one, reason=reasons[one.index] or cut[one.index]) if one.index >= 0 else one
            for one in windows
        ]

    def use(self, beat: BeatWindow, *waves: Wave) -> Use:
        """Say whether a beat and the waves read in it may be used."""
        reason = self._rhythm_reason(beat)
        if reason is None and any(not wave.is_whole for wave in waves):
            reason = CUT
        return Use(reason=reason)

    def _rhythm_reason(self, beat: BeatWindow) -> str | None:
        if not self.beats or self.rhythm is None:
            return beat.reason
        waves = self.rhythm.r_waves
        if beat.index >= 0 and waves[beat.index].reason is not None:
            return waves[beat.index].reason
        following = waves[beat.index + 1 : beat.index + 2]
        if following and following[0].reason == "premature beat":
            return CUT_SHORT
        return None

    def bound(self, side: int, waves: Sequence[Wave]) -> str | None:
        """Return ``lower`` when most of the waves reach the end of the scale."""
        height, at_end = self.curves[side].height_px, self.at_end[side]
        parts = [(slice(wave.first, wave.last + 1), NEAR_TOP * wave.peak_px) for wave in waves]
        ends = [
            (at_end[part] & (height[part] >= tall)).sum() >= LEAST_AT_END
            for part, tall in parts
        ]
        return "lower" if sum(ends) > 0.5 * len(waves) else None


def read_inflow(task: Task) -> tuple[list[Found], list[str]]:
    """Read E, A and the deceleration time of E."""
    side = task.sign
    waves, curve, ruler = task.waves[side], task.curves[side], task.rulers[side]
    early_beats, late_beats, falls = [], [], []
    used: dict[str, list[Wave]] = {"E": [], "A": []}
    fused = total = 0
    for beat in task.windows(r_from_filling(waves, task.s_per_column)):
        early, late = filling_waves(waves, beat, task.s_per_column)
        total += early is not None or late is not None
        if early is not None and early is late:
            fused += 1
            continue
        valley = _valley(curve, early, late)
        if early is not None:
            use = task.use(beat, early)
            used["E"] += [early] if use.is_used else []
            early_beats.append(early_peak_beat(ruler, curve, early, use))
            falls.append(deceleration_beat(ruler, curve, early, (valley, use)))
        if late is not None:
            use = task.use(beat, late)
            if use.is_used and valley > OVERLAP * late.peak_px:
                use = Use(reason="A begins before E has ended")
            used["A"] += [late] if use.is_used else []
            late_beats.append(peak_beat(ruler, late, use))
    bounds, notes = _inflow_bounds(task, used)
    said = f"E and A are fused in {fused} of {total} beats, which give neither: {SLOWER}"
    notes += [said] * (fused > 0)
    if 2 * fused > total:  # the others are no better parted
        return [], notes
    found = [
        Found("E", tuple(early_beats), bound=bounds["E"]),
        Found("A", tuple(late_beats), bound=bounds["A"]),
    ]
    if FLAT not in notes:  # without its top the deceleration has no start
        found.append(Found("DT", tuple(beat for beat in falls if beat), after="E"))
    return found, notes


def _inflow_bounds(
    task: Task, used: Mapping[str, Sequence[Wave]]
) -> tuple[dict[str, str | None], list[str]]:
    """Return the bound of E and of A, with notes."""
    bounds = {name: task.bound(task.sign, ones) for name, ones in used.items()}
    notes = [PAST_SCALE] if any(bounds.values()) else []
    if _is_flat(task, used["E"]):
        bounds["E"] = "lower"
        notes.append(FLAT)
    return bounds, notes


def read_jet(task: Task) -> tuple[list[Found], list[str]]:
    """Read the peak of a systolic regurgitant jet; of the mitral one also VTI and its rise."""
    name = "MR" if task.flow.startswith("mitral") else "TR"
    side = task.sign
    ruler, curve = task.rulers[side], task.curves[side]
    chosen = _systolic(task, BEFORE_JET_S)
    peaks = tuple(peak_beat(ruler, wave, use) for wave, use in chosen)
    bound, notes = _bound(task, [wave for wave, use in chosen if use.is_used])
    found = [Found(f"{name}_Vmax", peaks, bound=bound)]
    if name == "MR":
        areas = tuple(area_beat(ruler, wave, use) for wave, use in chosen)
        found.append(Found("MR_VTI", areas, bound=bound, after="MR_Vmax"))
        rises = [rise_beat(ruler, curve, wave, use) for wave, use in chosen if bound is None]
        found.append(Found("MR_dt", tuple(beat for beat in rises if beat), after="MR_Vmax"))
    return found, notes


def read_outflow(task: Task) -> tuple[list[Found], list[str]]:
    """Read peak, integral, mean gradient and the systolic times of an outflow."""
    name = "AV" if task.flow.startswith("aortic") else "PV"
    ruler = task.rulers[task.sign]
    chosen = _systolic(task, BEFORE_OUTFLOW_S)
    bound, notes = _bound(task, [wave for wave, use in chosen if use.is_used])
    peak = f"{name}_Vmax"
    labels = {"bound": bound, "after": peak}
    gradients = tuple(mean_gradient_beat(ruler, w, use) for w, use in chosen)
    found = [
        Found(peak, tuple(peak_beat(ruler, w, use) for w, use in chosen), bound=bound),
        Found(f"{name}_VTI", tuple(area_beat(ruler, w, use) for w, use in chosen), **labels),
        Found(f"{name}_MG", gradients, **labels),
    ]
    times = {"ET": tuple(duration_beat(ruler, w, use) for w, use in chosen)}
    if name == "PV":
        times["AT"] = tuple(acceleration_beat(ruler, w, use) for w, use in chosen)
    if task.beats:
        waits = (_pre_ejection(task, beat) for beat in task.beats)
        times["PEP"] = tuple(beat for beat in waits if beat is not None)
    found += [Found(id_, beats, detail=task.flow, after=peak) for id_, beats in times.items()]
    return found, notes


def read_leak(task: Task) -> tuple[list[Found], list[str]]:
    """Read a diastolic regurgitant jet: its peak, and its half-time or its end."""
    side = task.sign
    waves, curve, ruler = task.waves[side], task.curves[side], task.rulers[side]
    windows = task.windows(r_from_single_waves(waves, AFTER_SYSTOLE_S, task.s_per_column))
    aortic = task.flow.startswith("aortic")
    peaks, second, used = [], [], []
    for beat in windows:
        wave = diastolic_wave(waves, beat, task.s_per_column)
        if wave is None:
            continue
        use = task.use(beat, wave)
        used += [wave] if use.is_used else []
        try:
            fall = long_fall(curve, wave)
        except NotMeasurable:
            peaks.append(peak_beat(ruler, wave, use))
            continue
        peak_px = max(wave.peak_px, min(fall.height_px, TIP * wave.peak_px))
        peaks.append(velocity_beat(ruler, wave.peak_at, peak_px, wave.peak_sd_px, use))
        if aortic and fall.per_column > 0:
            start = (fall.start, fall.height_px)
            doubt = hypot(fall.relative_sd, HALF_TIME_SD)
            second.append(half_time_beat(ruler, start, fall.per_column, doubt, use))
        elif not aortic:
            end_px = max(fall.height_at(fall.last), 0.0)
            second.append(velocity_beat(ruler, fall.last, end_px, wave.peak_sd_px, use))
    bound, notes = _bound(task, used)
    name = "AR" if aortic else "PR"
    other = "AR_PHT" if aortic else "PR_Vend"
    return [
        Found(f"{name}_Vmax", tuple(peaks), bound=bound),
        Found(other, tuple(second), after=f"{name}_Vmax"),
    ], notes


def read_annulus(task: Task) -> tuple[list[Found], list[str]]:
    """Read the systolic, early and atrial peaks of a mitral annulus.

    The systolic wave is the taller one of the two sides in systole, with a beat; the early and
    atrial waves lie on the other side.
    """
    windows = task.windows(_annular_r(task))
    systolic_side = _systolic_side(task, windows)
    found: dict[str, list[Beat]] = {"S'": [], "E'": [], "A'": []}
    used: dict[str, list[Wave]] = {"S'": [], "E'": [], "A'": []}
    fused = 0
    for beat in windows:
        late_start = beat.r + 0.045 / task.s_per_column
        ejecting = [w for w in task.waves.get(systolic_side, ()) if w.peak_at > late_start]
        wave = systolic_wave(ejecting, beat, task.s_per_column)
        if wave is not None:
            used["S'"].append(wave)
            found["S'"].append(
                peak_beat(task.rulers[systolic_side], wave, task.use(beat, wave))
            )
        other = -systolic_side
        if other not in task.waves:
            continue
        early, late = filling_waves(task.waves[other], beat, task.s_per_column)
        if early is not None and early is late:
            fused += 1
            continue
        ruler = task.rulers[other]
        if early is not None:
            use = task.use(beat, early)
            used["E'"].append(early)
            found["E'"].append(early_peak_beat(ruler, task.curves[other], early, use))
        if late is not None:
            used["A'"].append(late)
            found["A'"].append(peak_beat(ruler, late, task.use(beat, late)))
    notes = [f"E' and A' are fused in {fused} beats, which give neither"] if fused else []
    sides = {"S'": systolic_side, "E'": -systolic_side, "A'": -systolic_side}
    bounds = {name: task.bound(sides[name], ones) for name, ones in used.items() if ones}
    notes += [PAST_SCALE] if any(bounds.values()) else []
    return [
        Found(name, tuple(beats), bound=bounds.get(name)) for name, beats in found.items()
    ], notes


READERS: Mapping[str, Callable[[Task], tuple[list[Found], list[str]]]] = {
    "mitral inflow": read_inflow,
    "mitral regurgitation": read_jet,
    "tricuspid regurgitation": read_jet,
    "aortic outflow": read_outflow,
    "pulmonic outflow": read_outflow,
    "aortic regurgitation": read_leak,
    "pulmonic regurgitation": read_leak,
    "mitral annulus septal": read_annulus,
    "mitral annulus lateral": read_annulus,
}


def _systolic(task: Task, before_s: float) -> list[tuple[Wave, Use]]:
    """Return the systolic wave of every beat, and whether it may be used."""
    waves = task.waves[task.sign]
    chosen = []
    for beat in task.windows(r_from_single_waves(waves, before_s, task.s_per_column)):
        wave = systolic_wave(waves, beat, task.s_per_column)
        if wave is not None:
            chosen.append((wave, task.use(beat, wave)))
    return chosen


def _annular_r(task: Task) -> list[float]:
    """Return where the R waves would be: before the systolic waves, which lie above."""
    side = 1 if 1 in task.waves else -1
    return r_from_single_waves(task.waves[side], 0.04, task.s_per_column)


def _systolic_side(task: Task, windows: Sequence[BeatWindow]) -> int:
    """Return the side of the systolic wave; without an ECG the usual one, above."""
    if not task.beats:
        return 1 if 1 in task.waves else -1
    area = dict.fromkeys(task.waves, 0.0)
    for side, waves in task.waves.items():
        for beat in windows:
            wave = systolic_wave(waves, beat, task.s_per_column)
            area[side] += wave.area if wave is not None else 0.0
    return max(area, key=lambda side: area[side])


def _bound(task: Task, waves: Sequence[Wave]) -> tuple[str | None, list[str]]:
    """Return ``lower`` when the top of the envelope is lost, with a note."""
    if task.is_cut:
        return "lower", [PAST_SCALE]
    if not waves:
        return None, []
    softness = sorted(wave.softness for wave in waves)[len(waves) // 2]
    if softness > SOFT_TOP:
        return "lower", [
            "the envelope has no sharp top: the jet is not wholly heard or crossed at an "
            "angle, the true peak can only be higher; align the beam and raise the gain"
        ]
    return ("lower", [FLAT]) if _is_flat(task, waves) else (None, [])


def _is_flat(task: Task, waves: Sequence[Wave]) -> bool:
    """Return whether the tops of most waves are flatter than such a flow is."""
    flatness = sorted(wave.flatness for wave in waves)
    return bool(waves) and flatness[len(waves) // 2] > FLAT_TOP.get(task.flow, 1.0)


def _valley(curve: Curve, early: Wave | None, late: Wave | None) -> float:
    """Return how far the envelope comes down between two waves."""
    if early is None or late is None:
        return 0.0
    between = curve.height_px[round(early.peak_at) : round(late.peak_at) + 1]
    return float(between.min()) if late.first - early.last <= 1 and between.size else 0.0


def _pre_ejection(task: Task, beat: BeatWindow) -> Beat | None:
    """Return the time from the onset of the QRS complex to the start of the outflow."""
    wave = systolic_wave(task.waves[task.sign], beat, task.s_per_column)
    if wave is None or beat.index < 0:
        return None
    onset = beat.r - QRS_TO_R_S / task.s_per_column
    sd = (wave.start_sd**2 + (QRS_TO_R_SD_S / task.s_per_column) ** 2) ** 0.5
    use = task.use(beat, wave)
    return time_beat(task.rulers[task.sign], (onset, 0.0), (wave.start, 0.0), sd, use)
