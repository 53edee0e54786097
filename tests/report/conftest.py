"""An invented dog, at an invented clinic, whose every record is written by hand."""

import datetime as dt
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from tableside.imaging.types import Pixels
from tableside.model import (
    Advice,
    Axis,
    Beat,
    Check,
    DicomIdentity,
    Exam,
    Finding,
    Image,
    Index,
    Measurement,
    Mode,
    Patient,
    ProtocolItem,
    Reading,
    Reference,
    Region,
    RegionKind,
    Rejected,
    Sex,
    Species,
    Spread,
    Study,
    Trace,
    Verdict,
    Visit,
)

STUDY = "2.25.302810371983920112030120001"
US, US_CINE = "1.2.840.10008.5.1.4.1.1.6.1", "1.2.840.10008.5.1.4.1.1.3.1"


def identity(number: int, sop_class: str = US, study: str = STUDY) -> DicomIdentity:
    return DicomIdentity(
        sop_class=sop_class,
        sop_instance=f"2.25.3028103719839201120301300{number:02d}",
        study=study,
        series=f"{study}.1",
    )


def mmode_image(file: str, number: int, label: str) -> Image:
    region = Region(
        index=0,
        kind=RegionKind.M_MODE,
        box=(20, 40, 819, 539),
        x=Axis(unit="s", per_pixel=0.004, origin_px=20),
        y=Axis(unit="cm", per_pixel=0.02, origin_px=40),
    )
    return Image(
        file=file,
        mode=Mode.M_MODE,
        rows=600,
        columns=840,
        mmode=label,
        view="right parasternal short axis, papillary muscles",
        regions=(region,),
        identity=identity(number),
        acquired=dt.datetime(2026, 3, 14, 10, 5, number),
    )


def spectrum_image(file: str, number: int, flow: str) -> Image:
    region = Region(
        index=0,
        kind=RegionKind.SPECTRAL,
        box=(20, 100, 819, 499),
        x=Axis(unit="s", per_pixel=0.003, origin_px=20),
        y=Axis(unit="m/s", per_pixel=-0.018, origin_px=150.0),
        wave="continuous",
    )
    return Image(
        file=file,
        mode=Mode.SPECTRAL,
        rows=600,
        columns=840,
        flow=flow,
        regions=(region,),
        identity=identity(number),
        acquired=dt.datetime(2026, 3, 14, 10, 6, number),
    )


def base_image(file: str, number: int) -> Image:
    region = Region(
        index=0,
        kind=RegionKind.TWO_D,
        box=(100, 20, 739, 579),
        x=Axis(unit="cm", per_pixel=0.02, origin_px=420),
        y=Axis(unit="cm", per_pixel=0.02, origin_px=20),
    )
    return Image(
        file=file,
        mode=Mode.TWO_D,
        rows=600,
        columns=840,
        frames=3,
        frame_times_s=(0.0, 0.025, 0.05),
        view="right parasternal short axis, heart base",
        regions=(region,),
        identity=identity(number, US_CINE),
        acquired=dt.datetime(2026, 3, 14, 10, 7, number),
    )


def beats(
    file: str, values: list[float], top: float, per_px: float, **more: object
) -> tuple[Beat, ...]:
    made = []
    for i, value in enumerate(values):
        x = 130.0 + 190.0 * i
        made.append(
            Beat(
                file=file,
                frame=0,
                value=value,
                sd=0.03 * value,
                time_s=(x - 20) * 0.004,
                points=((x, top), (x, top + value / per_px)),
            )
        )
    return tuple(made)


def measurement(
    quantity: str, unit: str, found: tuple[Beat, ...], **more: object
) -> Measurement:
    used = [beat.value for beat in found if beat.used]
    value = sum(used) / len(used)
    spread = Spread(
        trace=0.014 * value,
        calibration=0.005 * value,
        beats=0.012 * value,
        acquisition=0.04 * value,
        reading=0.02 * value,
    )
    return Measurement(
        quantity=quantity,
        value=value,
        unit=unit,
        spread=spread,
        beats=found,
        **{"method": "automatic", **more},
    )


def cornell(low: float, high: float, z: float) -> Reference:
    return Reference(source="cornell2004", population="adult dogs", low=low, high=high, z=z)


def _measurements() -> tuple[Measurement, ...]:
    lv = "I0003.dcm"
    late = Beat(
        file=lv,
        frame=0,
        value=4.11,
        time_s=2.7,
        points=((690.0, 200.0), (690.0, 405.0)),
        used=False,
        reason="premature beat",
    )
    walls = {"convention": "leading edge", "detail": "m-mode", "scale": lv}
    ml = ((300.0, 220.0), (462.0, 330.0))
    ao = ((300.0, 215.0), (372.0, 265.0))
    jet = (
        Beat(
            file="I0007.dcm", frame=0, value=3.9, sd=0.12, time_s=0.5, points=((190.0, 366.7),)
        ),
    )
    tr = (
        Beat(
            file="I0008.dcm", frame=0, value=3.2, sd=0.1, time_s=0.6, points=((220.0, 327.8),)
        ),
    )
    return (
        measurement("IVSd", "cm", beats(lv, [0.92, 0.95, 0.9], 154.0, 0.02), **walls,
                    references=(cornell(0.66, 1.17, 0.3),)),
        measurement("LVIDd", "cm", (*beats(lv, [4.62, 4.55, 4.58], 200.0, 0.02), late), **walls,
                    references=(cornell(2.97, 4.33, 2.3),)),
        measurement("LVPWd", "cm", beats(lv, [0.88, 0.86, 0.9], 430.0, 0.02), **walls,
                    references=(cornell(0.65, 1.13, 0.1),)),
        measurement("LVIDs", "cm", beats(lv, [2.66, 2.7, 2.62], 240.0, 0.02), **walls,
                    references=(cornell(1.75, 2.87, 0.9),)),
        measurement("Ao", "cm", (Beat(file="I0011.dcm", frame=1, value=1.75, points=ao),),
                    method="caliper", scale="I0011.dcm"),
        measurement("LA", "cm", (Beat(file="I0011.dcm", frame=1, value=3.92, points=ml),),
                    method="caliper", scale="I0011.dcm"),
        measurement("MR_Vmax", "m/s", jet, bound="lower", scale="I0007.dcm",
                    notes=("the envelope is incomplete at its peak",)),
        measurement("TR_Vmax", "m/s", tr, bound="lower", scale="I0008.dcm"),
        measurement("HR", "{beats}/min", (Beat(file=lv, frame=0, value=118.0),)),
    )  # fmt: skip


def _indices() -> tuple[Index, ...]:
    both = (
        Reference(source="cornell2004", population="adult dogs", low=1.27, high=1.85, z=2.2),
        Reference(source="rishniwbrown2022", population="1,124 healthy dogs", high=1.79),
    )
    return (
        Index(name="LVIDDN", value=1.96, sd=0.04, sd_total=0.1, unit="{cm/kg^0.294}",
              formula="lvidd_normalised", inputs=("LVIDd", "weight"), sources=("cornell2004",),
              references=both),
        Index(name="LA:Ao", value=2.24, sd=0.08, sd_total=0.17, unit="1", formula="la_to_ao",
              inputs=("LA", "Ao"), sources=("hansson2002",),
              references=(Reference(source="hansson2002", population="Cavalier King Charles "
                                    "Spaniels", high=1.6),)),
        Index(name="FS", value=42.1, sd=1.9, sd_total=4.2, unit="%",
              formula="fractional_shortening", inputs=("LVIDd", "LVIDs"),
              sources=("cornell2004",)),
        Index(name="TR_PG", value=41.0, sd=2.6, sd_total=5.0, unit="mm[Hg]", bound="lower",
              formula="simplified_bernoulli", inputs=("TR_Vmax",), sources=("hatle1985",),
              assumptions=("right atrial pressure is not added",)),
    )  # fmt: skip


def _checks() -> tuple[Check, ...]:
    return (
        Check(
            id="mitral-jet-against-pressure",
            verdict=Verdict.DOUBTFUL,
            probability_unusable=0.84,
            about=("MR_Vmax",),
            message="The mitral jet of 3.9 m/s implies 61 mmHg between ventricle and atrium, "
            "81 mmHg less than the cuff (142 mmHg; 4.1 SD). Likely: the beam crosses the jet "
            "at a wide angle.",
            remedy="Turn the probe until the jet runs along the beam and repeat the trace.",
            seconds=30,
            files=("I0007.dcm",),
            sources=("methods-5.3",),
        ),
        Check(
            id="septum-plus-cavity",
            verdict=Verdict.HOLDS,
            probability_unusable=0.02,
            about=("LVIDd",),
            message="The walls and the cavity add up to the depth of the heart.",
        ),
        Check(
            id="stroke-volume-two-ways",
            verdict=Verdict.NOT_ASSESSED,
            about=("AV_VTI",),
            message="No aortic outflow was recorded.",
        ),
        Check(
            id="axis-of-short-axis-view",
            verdict=Verdict.FAILS,
            probability_unusable=0.97,
            about=("Ao",),
            message="The aorta is oval by 22 %: the cut is oblique.",
            remedy="Tilt until the aorta is round and the three cusps show.",
            seconds=20,
            files=("I0011.dcm",),
        ),
    )


def _findings() -> tuple[Finding, ...]:
    return (
        Finding(
            id="mmvd-stage",
            title="Myxomatous mitral valve disease",
            statement="Stage B2: the left heart is enlarged and there are no signs of failure.",
            source="keene2019",
            probability={"B1": 0.07, "B2": 0.93},
            inputs=("LA:Ao 2.24 ± 0.08", "LVIDDN 1.96 ± 0.04", "murmur 3 of 6"),
            cautions=("the murmur was graded by ear",),
        ),
        Finding(
            id="pulmonary-hypertension",
            title="Pulmonary hypertension",
            statement="Intermediate probability: the jet is at least 3.2 m/s, perhaps faster.",
            source="reinero2020",
            probability={"low": 0.1, "intermediate": 0.62, "high": 0.28},
            inputs=("TR_Vmax at least 3.2 m/s",),
            missing=("pulmonary artery view",),
        ),
        Finding(
            id="systolic-function",
            title="Systolic function",
            statement="Shortening 42 %: hyperdynamic; the leak unloads the ventricle.",
            source="cornell2004",
            inputs=("FS 42.1 ± 1.9 %",),
        ),
        Finding(
            id="severity-2021",
            title="Severity score of mitral disease",
            statement="Not decided: the score needs the inflow peaks.",
            source="mine2021",
            missing=("E", "A"),
        ),
    )


@pytest.fixture
def reading() -> Reading:
    """A dog with moderate mitral disease and one jet crossed at a wide angle."""
    study = Study(
        patient=Patient(
            id="K-0412",
            name="Bramble",
            species=Species.DOG,
            breed="Border Collie",
            sex=Sex.FEMALE_NEUTERED,
            birth_date=dt.date(2017, 5, 2),
            weight_kg=18.4,
            owner="Alder",
        ),
        visit=Visit(
            date=dt.date(2026, 3, 14),
            murmur_grade=3,
            systolic_pressure_mmHg=142.0,
            systolic_pressure_readings=5,
            sedation="none",
            vertebral_heart_score=10.9,
            signs=("cough",),
        ),
        images=(
            mmode_image("I0003.dcm", 3, "left ventricle"),
            base_image("I0011.dcm", 11),
            spectrum_image("I0007.dcm", 7, "mitral regurgitation"),
            spectrum_image("I0008.dcm", 8, "tricuspid regurgitation"),
        ),
        rejected=(Rejected(file="notes.txt", reason="a text file, not an image"),),
    )
    envelope = tuple(
        (float(x), 150.0 + 216.0 * float(np.sin(np.pi * (x - 140) / 100)) ** 0.7)
        for x in range(141, 240, 3)
    )
    wall = tuple((float(x), 200.0 + 25.0 * float(np.sin(x / 30.0))) for x in range(20, 820, 4))
    return Reading(
        exam=Exam(study=study, measurements=_measurements(), indices=_indices()),
        traces=(
            Trace(file="I0003.dcm", frame=0, name="septum, cavity side", points=wall),
            Trace(file="I0003.dcm", frame=0, name="free wall, cavity side",
                  points=tuple((x, 630.0 - y) for x, y in wall)),
            Trace(file="I0007.dcm", frame=0, name="envelope", points=envelope),
        ),
        checks=_checks(),
        findings=_findings(),
        advice=(
            Advice(rank=2, action="Record the mitral inflow.", about=("E", "A"), seconds=40),
            Advice(rank=1, action="Repeat the mitral jet along the beam.", about=("MR_Vmax",),
                   seconds=30, gain=0.31),
        ),
        protocol=(
            ProtocolItem(view="right parasternal short axis, mitral valve", state="present"),
            ProtocolItem(view="right parasternal short axis, heart base", state="not credible",
                         why="the cut is oblique"),
            ProtocolItem(view="left apical, four chambers", state="missing"),
        ),
        notes=("the heart rate was counted on the M-mode",),
    )  # fmt: skip


@pytest.fixture
def empty_reading() -> Reading:
    """Nothing but one file that could not be read."""
    study = Study(rejected=(Rejected(file="x.dcm", reason="the file ends too early"),))
    return Reading(exam=Exam(study=study))


@pytest.fixture
def pictures() -> dict[tuple[str, int], Pixels]:
    """Speckle, bright where walls and jets would be."""
    made = {}
    shown = (("I0003.dcm", 0), ("I0011.dcm", 1), ("I0007.dcm", 0), ("I0008.dcm", 0))
    for seed, place in enumerate(shown):
        random = np.random.default_rng(seed)
        rows = np.abs(np.sin(np.arange(600) / 45.0 + seed))[:, None]
        speckle = random.rayleigh(1.0, (600, 840)) * rows * 60
        made[place] = np.clip(speckle, 0, 255).astype(np.uint8)
    return made


Change = Callable[..., Reading]


@pytest.fixture
def changed(reading: Reading) -> Change:
    """Give the reading with other patient, study or exam fields."""

    def change(
        patient: dict[str, object] | None = None,
        study: dict[str, object] | None = None,
        exam: dict[str, object] | None = None,
        **fields: object,
    ) -> Reading:
        old = reading.exam
        animal = replace(old.study.patient, **(patient or {}))
        new_study = replace(old.study, **{"patient": animal, **(study or {})})
        new_exam = replace(old, **{"study": new_study, **(exam or {})})
        return replace(reading, **{"exam": new_exam, **fields})

    return change
