"""The images of a study, one after the other, as a person would store them."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from tableside.model import Caliper
from tableside.phantom.chambers import (
    ChamberPicture,
    ChamberSpec,
    apical,
    long_axis,
    short_axis,
)
from tableside.phantom.dicom_file import ObjectSpec
from tableside.phantom.doppler import FlowSpec, spectrum
from tableside.phantom.ecg import EcgStyle, draw_line, electrocardiogram
from tableside.phantom.flow import flow_kind
from tableside.phantom.heart_base import HeartBaseSpec, heart_base
from tableside.phantom.mmode import (
    MModeSpec,
    aorta_left_atrium,
    left_ventricle,
    mitral_valve,
)
from tableside.phantom.mmode_spec import column_times
from tableside.phantom.rhythm import HeartBeat, heart_beats
from tableside.phantom.screen import (
    CINE_LEFT,
    CINE_TOP,
    ECG_ROWS,
    STRIP_COLUMNS,
    STRIP_ROWS,
    Captions,
    Screen,
    cine_screen,
    doppler_screen,
    mmode_screen,
)
from tableside.phantom.sector import Sector
from tableside.phantom.study_spec import StudySpec
from tableside.phantom.types import Floats, Pixels
from tableside.phantom.ventricle import contraction
from tableside.phantom.worksheet import Labels

FRAME_S = 1 / 30
LONG_AXIS_VIEW = "right parasternal long axis, four chambers"
SHORT_AXIS_VIEW = "right parasternal short axis, papillary muscles"
SMALL = Sector(rows=216, columns=256, tip_column=128.0)
MMODES = {
    "left ventricle": (left_ventricle, "right parasternal short axis, chordae"),
    "mitral valve": (mitral_valve, "right parasternal short axis, mitral valve"),
    "aorta and left atrium": (aorta_left_atrium, "right parasternal short axis, heart base"),
}
FLOW_VIEWS = {
    "mitral inflow": "left apical, four chambers",
    "mitral regurgitation": "left apical, four chambers",
    "mitral annulus septal": "left apical, four chambers",
    "mitral annulus lateral": "left apical, four chambers",
    "aortic outflow": "left apical, five chambers",
    "aortic regurgitation": "left apical, five chambers",
    "tricuspid inflow": "left apical, four chambers",
    "tricuspid regurgitation": "left apical, four chambers",
    "pulmonic outflow": "right parasternal short axis, pulmonary artery",
    "pulmonic regurgitation": "right parasternal short axis, pulmonary artery",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """One image of a study: its labels, its pixels and its truth."""

    labels: Labels
    screen: Screen
    stored: ObjectSpec
    truth: Mapping[str, float]

    @property
    def file(self) -> str:
        """The name of its file."""
        return self.labels.file


@dataclass(frozen=True, slots=True)
class _Job:
    """What every image of the study is made from."""

    spec: StudySpec
    seed: int
    number: int

    @property
    def file(self) -> str:
        return f"I{self.number:04d}.dcm"

    @property
    def own_seed(self) -> int:
        return self.seed * 1000 + self.number

    @property
    def chambers(self) -> ChamberSpec:
        spec = self.spec
        return ChamberSpec(
            weight_kg=spec.weight_kg,
            enlargement=spec.enlargement,
            fractional_shortening=spec.fractional_shortening,
            wall=spec.wall,
            left_atrium_to_aorta=spec.left_atrium_to_aorta,
        )

    def stored(self, r_times_s: tuple[float, ...] = (), *, many: bool = False) -> ObjectSpec:
        return ObjectSpec(
            number=self.number,
            coding=self.spec.coding,
            heart_rate=round(self.spec.heart_rate),
            frame_time_ms=FRAME_S * 1000 if many else None,
            r_times_ms=tuple(1000 * time for time in r_times_s),
        )

    def captions(self, *beside: str) -> Captions:
        patient = self.spec.dog
        name = f"{patient.name}  {patient.id}  {patient.weight_kg:g} kg"
        date = self.spec.visit.date
        right = f"{date:%Y-%m-%d}" if date else ""
        rate = f"{self.spec.heart_rate:.0f}/min"
        return Captions(
            left=f"{self.spec.clinic}    {name}", right=right, beside=(*beside, rate)
        )


Maker = Callable[[_Job], Picture]


def pictures(spec: StudySpec, seed: int) -> Iterator[Picture]:
    """Yield the images of the study in the order of an examination."""
    makers = [_long_axis, _short_axis, _tracing("left ventricle"), _tracing("mitral valve")]
    makers += [_heart_base, *(_spectrum(flow) for flow in spec.flows)]
    for number, make in enumerate(makers, start=1):
        yield make(_Job(spec, seed, number))


def _clip(job: _Job) -> tuple[Floats, tuple[HeartBeat, ...], Floats]:
    """Return frame times, beats and contraction of a clip."""
    rng = np.random.default_rng(job.own_seed)
    time_s = column_times(job.spec.clip_frames, FRAME_S)
    beats = heart_beats(float(time_s[-1]), job.spec.heart_rate, job.spec.rhythm, rng)
    return time_s, beats, contraction(time_s, beats)


def _long_axis(job: _Job) -> Picture:
    time_s, beats, full = _clip(job)
    view = long_axis(job.chambers, full, job.own_seed)
    return _chamber_clip(
        job, "right parasternal long axis, four chambers", view, (time_s, beats)
    )


def _short_axis(job: _Job) -> Picture:
    time_s, beats, full = _clip(job)
    view = short_axis(job.chambers, full, job.own_seed)
    return _chamber_clip(
        job, "right parasternal short axis, papillary muscles", view, (time_s, beats)
    )


def _chamber_clip(
    job: _Job,
    name: str,
    view: ChamberPicture,
    timing: tuple[Floats, tuple[HeartBeat, ...]],
) -> Picture:
    time_s, beats = timing
    ecg = _growing_ecg(time_s, beats, view.sector, job.own_seed)
    screen = cine_screen(view.pixels, view.sector, ecg, job.captions("2-D"))
    r_times_s = tuple(beat.r_s for beat in beats if 0 <= beat.r_s <= time_s[-1])
    labels = Labels(file=job.file, view=name, calipers=_calipers(job, view.points, view.frame))
    return Picture(
        labels=labels,
        screen=screen,
        stored=job.stored(r_times_s, many=True),
        truth=view.truth,
    )


def _heart_base(job: _Job) -> Picture:
    spec = job.spec
    clip = heart_base(
        HeartBaseSpec(
            weight_kg=spec.weight_kg,
            left_atrium_to_aorta=spec.left_atrium_to_aorta,
            heart_rate=spec.heart_rate,
            rhythm=spec.rhythm,
            frames=spec.clip_frames,
            s_per_frame=FRAME_S,
        ),
        job.own_seed,
    )
    time_s = column_times(spec.clip_frames, FRAME_S)
    ecg = _growing_ecg(time_s, clip.beats, clip.sector, job.own_seed)
    return Picture(
        labels=Labels(
            file=job.file,
            view="right parasternal short axis, heart base",
            calipers=_calipers(job, clip.points, clip.frame),
        ),
        screen=cine_screen(clip.pixels, clip.sector, ecg, job.captions("2-D")),
        stored=job.stored(clip.r_times_s, many=True),
        truth=clip.truth,
    )


def _calipers(
    job: _Job,
    points: Mapping[str, tuple[tuple[float, float], tuple[float, float]]],
    frame: int,
) -> tuple[Caliper, ...]:
    """Return a person's calipers: near the true points, on the screen."""
    rng = np.random.default_rng(job.own_seed + 500)
    found = []
    for quantity, ends in points.items():
        slip = rng.normal(0, job.spec.caliper_sd_px, (2, 2))
        moved = tuple(
            (float(x + CINE_LEFT + dx), float(y + CINE_TOP + dy))
            for (x, y), (dx, dy) in zip(ends, slip, strict=True)
        )
        found.append(Caliper(quantity=quantity, file=job.file, frame=frame, points=moved))
    return tuple(found)


def _growing_ecg(
    time_s: Floats, beats: tuple[HeartBeat, ...], sector: Sector, seed: int
) -> list[Pixels]:
    """Return the ECG strip of every frame, drawn up to the time of the frame."""
    rng = np.random.default_rng(seed + 700)
    style = EcgStyle(amplitude_px=20.0)
    columns_s = np.asarray(np.arange(sector.columns) / sector.columns * time_s[-1])
    volts = electrocardiogram(columns_s, beats, rng, style)
    rows = 0.75 * ECG_ROWS - style.amplitude_px * volts
    blank = np.zeros((ECG_ROWS, sector.columns, 3), dtype=np.uint8)
    return [draw_line(blank, np.where(columns_s <= now, rows, np.nan), style) for now in time_s]


def _tracing(level: str) -> Maker:
    make, view = MMODES[level]

    def picture(job: _Job) -> Picture:
        spec = job.spec
        tracing = make(
            MModeSpec(
                weight_kg=spec.weight_kg, heart_rate=spec.heart_rate, rhythm=spec.rhythm,
                fractional_shortening=spec.fractional_shortening,
                enlargement=spec.enlargement, wall=spec.wall, epss_cm=spec.epss_cm,
                left_atrium_to_aorta=spec.left_atrium_to_aorta, gain_db=spec.gain_db,
                snr_db=spec.snr_db, dropout=spec.dropout,
                chorda=spec.chorda and level == "left ventricle",
                rows=STRIP_ROWS, columns=STRIP_COLUMNS, s_per_column=0.004,
            ),
            job.own_seed,
        )  # fmt: skip
        screen = mmode_screen(tracing, _small(job, view), job.captions("M-mode"))
        labels = Labels(file=job.file, view=view, mmode=level)
        return Picture(labels=labels, screen=screen, stored=job.stored(), truth=tracing.truth)

    return picture


def _spectrum(flow: str) -> Maker:
    def picture(job: _Job) -> Picture:
        spec, jet, kind = job.spec, job.spec.flows[flow], flow_kind(flow)
        tracing = spectrum(
            FlowSpec(
                flow=flow, peaks_m_s=jet.peaks_m_s, angle_deg=jet.angle_deg,
                heart_rate=spec.heart_rate, rhythm=spec.rhythm,
                rows=STRIP_ROWS, columns=STRIP_COLUMNS, s_per_column=0.004,
            ),
            job.own_seed,
        )  # fmt: skip
        wave = "continuous" if kind.continuous else "pulsed"
        words = {"continuous": "CW Doppler", "pulsed": "PW Doppler"}[wave]
        view = FLOW_VIEWS[flow]
        captions = job.captions("tissue Doppler" if kind.tissue else words)
        truth = dict(tracing.truth)
        if jet.angle_deg:
            truth[f"{kind.names[0]} true"] = tracing.true_peak_m_s
        screen = doppler_screen(tracing, _small(job, view), captions, wave)
        labels = Labels(file=job.file, view=view, flow=flow)
        return Picture(labels=labels, screen=screen, stored=job.stored(), truth=truth)

    return picture


def _small(job: _Job, view: str) -> tuple[Pixels, Sector]:
    """Return the small picture above a strip, in mid-diastole."""
    rest = np.array([0.0])
    if view.endswith(("heart base", "pulmonary artery")):
        base = heart_base(
            HeartBaseSpec(
                weight_kg=job.spec.weight_kg, frames=1, sector=SMALL,
                left_atrium_to_aorta=job.spec.left_atrium_to_aorta,
            ),
            job.own_seed,
        )  # fmt: skip
        return base.pixels[0], base.sector
    draw = apical if view.startswith("left apical") else short_axis
    made = draw(replace(job.chambers, sector=SMALL), rest, job.own_seed)
    return made.pixels[0], made.sector
