"""The keys of the worksheet, their types and their limits."""

import datetime as dt
from typing import Annotated, Any, Self

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, model_validator

from tableside.model import FLOWS, MMODE_LEVELS, VIEWS, Sex, Species, quantities

MOST_COLUMNS = 100_000.0  # no image is wider; a coordinate beyond is a slip

Text = Annotated[str, Field(min_length=1, max_length=500)]
Scale = Annotated[float, Field(gt=0, lt=MOST_COLUMNS, allow_inf_nan=False)]
Pixel = Annotated[float, Field(ge=-0.5, le=MOST_COLUMNS, allow_inf_nan=False)]


def _one_of(allowed: tuple[str, ...]) -> BeforeValidator:
    """Accept one of a list of labels, whatever its case; the error gives the list."""

    def check(value: Any) -> Any:
        if not isinstance(value, str):
            return value
        label = " ".join(value.split()).lower()
        if label not in allowed:
            raise ValueError(f"{value!r} is not known; there are: {'; '.join(allowed)}")
        return label

    return BeforeValidator(check)


def _known_quantity(value: Any) -> Any:
    if isinstance(value, str) and value not in quantities():
        raise ValueError(f"{value!r} is not a quantity; there are: {' '.join(quantities())}")
    return value


def _member_of(kind: type[Species] | type[Sex]) -> BeforeValidator:
    """Turn a word into a member; the error gives the words."""

    def check(value: Any) -> Any:
        words = [str(member.value) for member in kind]
        if isinstance(value, str) and value not in words:
            raise ValueError(f"{value!r} is not known; it is {' or '.join(words)}")
        return kind(value) if isinstance(value, str) else value

    return BeforeValidator(check)


def _numbers(value: Any) -> Any:
    return tuple(value) if isinstance(value, list) else value


def _rows(value: Any) -> Any:
    if not isinstance(value, list):
        return value
    return tuple(tuple(row) if isinstance(row, list) else row for row in value)


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class PatientTable(_Table):
    """``[patient]``."""

    id: Text | None = None
    name: Text | None = None
    species: Annotated[Species, _member_of(Species)] | None = None
    breed: Text | None = None
    sex: Annotated[Sex, _member_of(Sex)] | None = None
    birth_date: dt.date | None = None
    weight_kg: Annotated[float, Field(ge=0.05, le=150)] | None = None
    owner: Text | None = None


class VisitTable(_Table):
    """``[visit]``."""

    date: dt.date | None = None
    murmur_grade: Annotated[int, Field(ge=0, le=6)] | None = None
    systolic_pressure_mmHg: Annotated[float, Field(ge=20, le=400)] | None = None
    systolic_pressure_readings: Annotated[int, Field(ge=1, le=100)] | None = None
    sedation: Text | None = None
    vertebral_heart_score: Annotated[float, Field(ge=4, le=25)] | None = None
    signs: Annotated[tuple[Text, ...], BeforeValidator(_numbers)] = ()
    ascites: bool | None = None


class ScaleTable(_Table):
    """``[image.scale]``: a scale read off the ruler that is drawn on the image."""

    rows_per_cm: Scale | None = None
    columns_per_s: Scale | None = None
    rows_per_m_s: Scale | None = None
    baseline_row: Pixel | None = None
    box: Annotated[tuple[int, int, int, int], BeforeValidator(_numbers)] | None = None

    @model_validator(mode="after")
    def _require_whole(self) -> Self:
        if self.rows_per_cm is None and self.rows_per_m_s is None:
            raise ValueError("it needs rows_per_cm (2-D, M-mode) or rows_per_m_s (Doppler)")
        if self.rows_per_cm is not None and self.rows_per_m_s is not None:
            raise ValueError("it has rows_per_cm and rows_per_m_s; one tracing has one of them")
        if self.rows_per_m_s is not None and self.baseline_row is None:
            raise ValueError("rows_per_m_s needs baseline_row, the row of zero velocity")
        if self.rows_per_m_s is not None and self.columns_per_s is None:
            raise ValueError("rows_per_m_s needs columns_per_s, the sweep speed")
        if self.box is not None and not (
            0 <= self.box[0] < self.box[2] and 0 <= self.box[1] < self.box[3]
        ):
            raise ValueError(
                f"box = {list(self.box)}; it is left, top, right, bottom in pixels"
            )
        return self


class ImageTable(_Table):
    """``[[image]]``: what one image shows."""

    file: Text
    view: Annotated[str, _one_of(VIEWS)] | None = None
    mmode: Annotated[str, _one_of(MMODE_LEVELS)] | None = None
    flow: Annotated[str, _one_of(FLOWS)] | None = None
    scale: ScaleTable | None = None

    @model_validator(mode="after")
    def _require_one_kind(self) -> Self:
        if self.mmode is not None and self.flow is not None:
            raise ValueError("it has mmode and flow; an image is an M-mode or a spectrum")
        return self


class CaliperTable(_Table):
    """``[[caliper]]``: what a person measured."""

    quantity: Annotated[str, BeforeValidator(_known_quantity)]
    file: Text
    frame: Annotated[int, Field(ge=0)] = 0
    points: Annotated[
        tuple[tuple[Pixel, Pixel], ...],
        Field(min_length=1, max_length=2000),
        BeforeValidator(_rows),
    ]


class Worksheet(_Table):
    """The whole worksheet."""

    patient: PatientTable = PatientTable()
    visit: VisitTable = VisitTable()
    image: Annotated[tuple[ImageTable, ...], BeforeValidator(_numbers)] = ()
    caliper: Annotated[tuple[CaliperTable, ...], BeforeValidator(_numbers)] = ()

    @model_validator(mode="after")
    def _require_order(self) -> Self:
        files = [one.file for one in self.image]
        twice = next((file for file in files if files.count(file) > 1), None)
        if twice is not None:
            raise ValueError(f"image: {twice} stands twice; give each file one [[image]]")
        birth, visit = self.patient.birth_date, self.visit.date
        if birth is not None and visit is not None and birth > visit:
            raise ValueError(f"patient.birth_date = {birth} is after visit.date = {visit}")
        return self
