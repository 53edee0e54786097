"""Where the interfaces of the left ventricle lie along the line of an M-mode."""

from dataclasses import dataclass

import numpy as np

from tableside.phantom.mmode_spec import MModeSpec
from tableside.phantom.rhythm import HeartBeat
from tableside.phantom.types import Floats
from tableside.phantom.ventricle import (
    FREE_WALL_LATE_S,
    SEPTAL_SHARE,
    SEPTUM_EARLY_S,
    Ventricle,
    contraction,
)

CHEST_CM = 1.15  # skin to the right ventricle, in a dog of 10 kg
RIGHT_CM = 0.95  # through the right ventricle to the septum


@dataclass(frozen=True, slots=True)
class Walls:
    """Depths in cm of the four interfaces, from the skin."""

    septum_right: Floats
    septum_left: Floats
    endocardium: Floats
    epicardium: Floats

    def sizes(self) -> tuple[Floats, Floats, Floats]:
        """Septum, cavity and free wall along the beam."""
        return (
            self.septum_left - self.septum_right,
            self.endocardium - self.septum_left,
            self.epicardium - self.endocardium,
        )


def wall_depths(
    time_s: Floats,
    beats: tuple[HeartBeat, ...],
    heart: Ventricle,
    spec: MModeSpec,
    breath_cm: Floats,
) -> Walls:
    """Depths of the interfaces: the septum goes a little before the free wall."""
    septal = contraction(time_s + SEPTUM_EARLY_S, beats)
    free = contraction(time_s - FREE_WALL_LATE_S, beats)
    slant = 1 / np.cos(np.radians(spec.off_axis_deg))
    beside_cm = spec.off_centre * heart.cavity_cm / 2
    resting_cm = float(chord_cm(np.array(heart.cavity_cm), beside_cm))
    septal_gain = SEPTAL_SHARE * (resting_cm - chord_cm(heart.cavity_at(septal), beside_cm))
    free_gain = (1 - SEPTAL_SHARE) * (resting_cm - chord_cm(heart.cavity_at(free), beside_cm))
    left = heart.septum_cm + septal_gain
    endocardium = heart.septum_cm + resting_cm - free_gain
    septum_cm = _crossed_cm(heart.cavity_at(septal), heart.septum_at(septal), beside_cm)
    wall_cm = _crossed_cm(heart.cavity_at(free), heart.wall_at(free), beside_cm)
    start = (CHEST_CM + RIGHT_CM) * spec.size + breath_cm
    return Walls(
        septum_right=start + slant * (left - septum_cm),
        septum_left=start + slant * left,
        endocardium=start + slant * endocardium,
        epicardium=start + slant * (endocardium + wall_cm),
    )


def chord_cm(diameter_cm: Floats, beside_cm: float) -> Floats:
    """Length of a line through a circle that passes beside its centre."""
    least = (0.05 * diameter_cm) ** 2
    return np.sqrt(np.maximum(diameter_cm**2 - (2 * beside_cm) ** 2, least))


def _crossed_cm(cavity_cm: Floats, thickness_cm: Floats, beside_cm: float) -> Floats:
    """Length of the line within a wall of a round chamber."""
    outer_cm = cavity_cm + 2 * thickness_cm
    crossed = chord_cm(outer_cm, beside_cm) - chord_cm(cavity_cm, beside_cm)
    return np.asarray(crossed / 2)


def right_cavity_cm(heart: Ventricle, time_s: Floats, beats: tuple[HeartBeat, ...]) -> Floats:
    """Width of the right ventricle in front of the septum."""
    return np.asarray(0.26 * heart.cavity_cm * (1 - 0.25 * contraction(time_s, beats)))
