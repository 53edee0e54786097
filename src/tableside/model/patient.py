"""Who was examined, and what was found before the probe touched the chest."""

import datetime as dt
from dataclasses import dataclass
from enum import StrEnum


class Species(StrEnum):
    """The species tableside has reference values for."""

    DOG = "dog"
    CAT = "cat"


class Sex(StrEnum):
    """Sex and neuter status, as the worksheet writes them."""

    FEMALE = "F"
    FEMALE_NEUTERED = "FN"
    MALE = "M"
    MALE_NEUTERED = "MN"

    @property
    def is_male(self) -> bool:
        """Whether the animal is male, neutered or not."""
        return self in (Sex.MALE, Sex.MALE_NEUTERED)


@dataclass(frozen=True, slots=True, kw_only=True)
class Patient:
    """One animal. What is not known is None."""

    id: str | None = None
    name: str | None = None
    species: Species | None = None
    breed: str | None = None
    sex: Sex | None = None
    birth_date: dt.date | None = None
    weight_kg: float | None = None
    owner: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """What the person noted at this visit. What was not noted is None."""

    date: dt.date | None = None
    murmur_grade: int | None = None
    systolic_pressure_mmHg: float | None = None
    systolic_pressure_readings: int | None = None
    sedation: str | None = None
    vertebral_heart_score: float | None = None
    signs: tuple[str, ...] = ()
    ascites: bool | None = None

    @property
    def has_heart_failure(self) -> bool:
        """Whether congestive heart failure stands among the signs."""
        return any("congestive heart failure" in sign.lower() for sign in self.signs)
