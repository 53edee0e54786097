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
    septal_gain = SEPTAL_SHARE * (heart.cavity_cm - heart.cavity_at(septal))
    free_gain = (1 - SEPTAL_SHARE) * (heart.cavity_cm - heart.cavity_at(free))
    left = heart.septum_cm + septal_gain
    endocardium = heart.septum_cm + heart.cavity_cm - free_gain
    start = (CHEST_CM + RIGHT_CM) * spec.size + breath_cm
    return Walls(
        septum_right=start + slant * (left - heart.septum_at(septal)),
        septum_left=start + slant * left,
        endocardium=start + slant * endocardium,
        epicardium=start + slant * (endocardium + heart.wall_at(free)),
    )


def right_cavity_cm(heart: Ventricle, time_s: Floats, beats: tuple[HeartBeat, ...]) -> Floats:
    """Width of the right ventricle in front of the septum."""
    return np.asarray(0.26 * heart.cavity_cm * (1 - 0.25 * contraction(time_s, beats)))
