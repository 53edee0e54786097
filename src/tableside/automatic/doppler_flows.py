"""What each flow gives, beat by beat: the readers that `doppler` chooses from."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import hypot

from tableside.errors import NotMeasurable
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
from tableside.imaging.slopes import early_fall, long_fall, rise_between
from tableside.imaging.waves import Curve, Wave
from tableside.measure.doppler import (
    Ruler,
    Use,
    gradient_beat,
    half_time_beat,
    integral_beat,
    time_beat,
    velocity_beat,
)
from tableside.model import Beat, Rhythm

QRS_TO_R_S, QRS_TO_R_SD_S = 0.022, 0.005  # onset of the QRS complex before R; memory
SOFT_TOP = 0.09  # an edge wider than this share of the peak: the top is not wholly heard
OVERLAP = 0.5  # A that begins on E above this share of its own height is not A alone
DT_SD, PEAK_TIME_SD = 1.2, 2.0  # columns; measured on drawn spectra
RISE_SD_S = 0.003
EARLY_TIP = 1.08  # the same for an early wave
TIP = 1.04  # a leak begins with a sharp tip: its fall drawn back may exceed the top by this

CUT = "cut by the edge of the picture"


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
        return beat_windows(r_columns, self.curves[self.sign].columns, self.s_per_column)

    def use(self, beat: BeatWindow, *waves: Wave) -> Use:
        """Say whether a beat and the waves read in it may be used."""
        reason = self._rhythm_reason(beat)
        if reason is None and any(not wave.is_whole for wave in waves):
            reason = CUT
        return Use(reason=reason)

    def _rhythm_reason(self, beat: BeatWindow) -> str | None:
        if not self.beats or self.rhythm is None:
            return None
        waves = self.rhythm.r_waves
        if beat.index >= 0 and waves[beat.index].reason is not None:
            return waves[beat.index].reason
        following = waves[beat.index + 1 : beat.index + 2]
        if following and following[0].reason == "premature beat":
            return "cut short by a premature beat"
        return None


def read_inflow(task: Task) -> tuple[list[Found], list[str]]:
    """Read E, A and the deceleration time of E."""
    side = task.sign
    waves, curve, ruler = task.waves[side], task.curves[side], task.rulers[side]
    early_beats, late_beats, falls = [], [], []
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
            early_beats.append(_early_peak(ruler, curve, early, use))
            falls.append(_deceleration(ruler, curve, early, (valley, use)))
        if late is not None:
            use = task.use(beat, late)
            if use.is_used and valley > OVERLAP * late.peak_px:
                use = Use(reason="A begins before E has ended")
            late_beats.append(_peak(ruler, late, use))
    notes = []
    if fused:
        notes.append(
            f"E and A are fused in {fused} of {total} beats, which give neither: "
            "repeat at a slower heart rate"
        )
    decelerations = tuple(beat for beat in falls if beat is not None)
    found = [Found("E", tuple(early_beats)), Found("A", tuple(late_beats))]
    return [*found, Found("DT", decelerations, after="E")], notes


def read_jet(task: Task) -> tuple[list[Found], list[str]]:
    """Read the peak of a systolic regurgitant jet; of the mitral one also VTI and its rise."""
    name = "MR" if task.flow.startswith("mitral") else "TR"
    side = task.sign
    ruler, curve = task.rulers[side], task.curves[side]
    chosen = _systolic(task, BEFORE_JET_S)
    peaks = tuple(_peak(ruler, wave, use) for wave, use in chosen)
    bound, notes = _bound(task, [wave for wave, use in chosen if use.is_used])
    found = [Found(f"{name}_Vmax", peaks, bound=bound)]
    if name == "MR":
        areas = tuple(_integral(ruler, wave, use) for wave, use in chosen)
        found.append(Found("MR_VTI", areas, bound=bound, after="MR_Vmax"))
        rises = [_rise(ruler, curve, wave, use) for wave, use in chosen if bound is None]
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
    found = [
        Found(peak, tuple(_peak(ruler, w, use) for w, use in chosen), bound=bound),
        Found(f"{name}_VTI", tuple(_integral(ruler, w, use) for w, use in chosen), **labels),
        Found(f"{name}_MG", tuple(_gradient(ruler, w, use) for w, use in chosen), **labels),
    ]
    times = {"ET": tuple(_duration(ruler, w, use) for w, use in chosen)}
    if name == "PV":
        times["AT"] = tuple(_acceleration(ruler, w, use) for w, use in chosen)
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
            peaks.append(_peak(ruler, wave, use))
            continue
        peak_px = max(wave.peak_px, min(fall.height_px, TIP * wave.peak_px))
        peaks.append(velocity_beat(ruler, wave.peak_at, peak_px, wave.peak_sd_px, use))
        if aortic and fall.per_column > 0:
            start = (fall.start, fall.height_px)
            second.append(half_time_beat(ruler, start, fall.per_column, fall.relative_sd, use))
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
    fused = 0
    for beat in windows:
        late_start = beat.r + 0.045 / task.s_per_column
        ejecting = [w for w in task.waves.get(systolic_side, ()) if w.peak_at > late_start]
        wave = systolic_wave(ejecting, beat, task.s_per_column)
        if wave is not None:
            found["S'"].append(_peak(task.rulers[systolic_side], wave, task.use(beat, wave)))
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
            found["E'"].append(_early_peak(ruler, task.curves[other], early, use))
        if late is not None:
            found["A'"].append(_peak(ruler, late, task.use(beat, late)))
    notes = [f"E' and A' are fused in {fused} beats, which give neither"] if fused else []
    return [Found(name, tuple(beats)) for name, beats in found.items()], notes


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
    """Return where the R waves would be: before the waves of the side that has fewer."""
    side = min(task.waves, key=lambda one: len(task.waves[one]))
    return r_from_single_waves(task.waves[side], 0.04, task.s_per_column)


def _systolic_side(task: Task, windows: Sequence[BeatWindow]) -> int:
    area = dict.fromkeys(task.waves, 0.0)
    for side, waves in task.waves.items():
        for beat in windows:
            wave = systolic_wave(waves, beat, task.s_per_column)
            area[side] += wave.area if wave is not None else 0.0
    return max(area, key=lambda side: area[side])


def _bound(task: Task, waves: Sequence[Wave]) -> tuple[str | None, list[str]]:
    """Return ``lower`` when the top of the envelope is lost, with a note."""
    if task.is_cut:
        return "lower", ["the flow reaches past the scale: the true peak is higher"]
    if not waves:
        return None, []
    softness = sorted(wave.softness for wave in waves)[len(waves) // 2]
    if softness > SOFT_TOP:
        return "lower", [
            "the envelope has no sharp top: the jet is not wholly heard or crossed at an "
            "angle, the true peak can only be higher; align the beam and raise the gain"
        ]
    return None, []


def _valley(curve: Curve, early: Wave | None, late: Wave | None) -> float:
    """Return how far the envelope comes down between two waves."""
    if early is None or late is None:
        return 0.0
    between = curve.height_px[round(early.peak_at) : round(late.peak_at) + 1]
    return float(between.min()) if late.first - early.last <= 1 and between.size else 0.0


def _peak(ruler: Ruler, wave: Wave, use: Use) -> Beat:
    return velocity_beat(ruler, wave.peak_at, wave.peak_px, wave.peak_sd_px, use)


def _early_peak(ruler: Ruler, curve: Curve, wave: Wave, use: Use) -> Beat:
    """Return the peak of an early wave, whose sharp tip the window of time has rounded.

    The straight deceleration drawn back to the peak is the most it can have been, the top of
    the parabola the least: half way between, and the doubt grows with the difference.
    """
    try:
        fall = early_fall(curve, wave, 0.0)
    except NotMeasurable:
        return _peak(ruler, wave, use)
    most = min(fall.height_px, EARLY_TIP * wave.peak_px)
    lost = max(0.0, most - wave.peak_px)
    sd_px = hypot(wave.peak_sd_px, 0.3 * lost)
    return velocity_beat(ruler, wave.peak_at, wave.peak_px + lost / 2, sd_px, use)


def _integral(ruler: Ruler, wave: Wave, use: Use) -> Beat:
    return integral_beat(ruler, (wave.start, wave.end), wave.area, wave.area_sd, use)


def _gradient(ruler: Ruler, wave: Wave, use: Use) -> Beat:
    span = (wave.start, wave.end)
    return gradient_beat(ruler, span, wave.mean_square_px2, wave.relative_sd, use)


def _duration(ruler: Ruler, wave: Wave, use: Use) -> Beat:
    sd = (wave.start_sd**2 + wave.end_sd**2) ** 0.5
    return time_beat(ruler, (wave.start, 0.0), (wave.end, 0.0), sd, use)


def _acceleration(ruler: Ruler, wave: Wave, use: Use) -> Beat:
    sd = (wave.start_sd**2 + PEAK_TIME_SD**2) ** 0.5
    return time_beat(ruler, (wave.start, 0.0), (wave.peak_at, wave.peak_px), sd, use)


def _pre_ejection(task: Task, beat: BeatWindow) -> Beat | None:
    """Return the time from the onset of the QRS complex to the start of the outflow."""
    wave = systolic_wave(task.waves[task.sign], beat, task.s_per_column)
    if wave is None or beat.index < 0:
        return None
    onset = beat.r - QRS_TO_R_S / task.s_per_column
    sd = (wave.start_sd**2 + (QRS_TO_R_SD_S / task.s_per_column) ** 2) ** 0.5
    use = task.use(beat, wave)
    return time_beat(task.rulers[task.sign], (onset, 0.0), (wave.start, 0.0), sd, use)


def _deceleration(
    ruler: Ruler, curve: Curve, wave: Wave, state: tuple[float, Use]
) -> Beat | None:
    valley_px, use = state
    try:
        fall = early_fall(curve, wave, valley_px)
    except NotMeasurable:
        return None
    length = fall.zero - wave.peak_at
    sd = ((fall.relative_sd * length) ** 2 + DT_SD**2) ** 0.5
    return time_beat(ruler, (wave.peak_at, wave.peak_px), (fall.zero, 0.0), sd, use)


def _rise(ruler: Ruler, curve: Curve, wave: Wave, use: Use) -> Beat | None:
    """Return the time from 1 to 3 m/s on the rising flank of the mitral jet."""
    scale = ruler.region.m_s_per_row
    try:
        one, three = rise_between(curve, wave, 1.0 / scale, 3.0 / scale)
    except NotMeasurable:
        return None
    sd = RISE_SD_S / ruler.region.s_per_column
    return time_beat(ruler, (one, 1.0 / scale), (three, 3.0 / scale), sd, use)
