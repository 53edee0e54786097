"""Walls of a left ventricle over time, in closed form and without change of muscle volume.

A ring of muscle around a round cavity of radius ``r``, of length ``L``: its volume
``pi ((r + h)^2 - r^2) L`` stays the same, so the wall must thicken as the cavity shrinks.

Source of the sizes: Esser 2020 (left ventricular diameter, 1.38 kg^0.322 cm; septum,
0.36 kg^0.289 cm; medians of adult dogs).
"""

from dataclasses import dataclass

import numpy as np

from tableside.phantom.rhythm import HeartBeat
from tableside.phantom.types import Floats

SEPTAL_SHARE = 0.4  # of the excursion; the free wall does the rest
SEPTUM_EARLY_S = 0.012
FREE_WALL_LATE_S = 0.010
SHORTENING_OF_LENGTH = 0.14
EARLY_SHARE = 0.75  # of the filling, the rest is the atrium's
BACK_SHARE = 0.3  # of the isovolumic relaxation, after which the walls turn back
RECOVERY_S = 0.10  # of the force with filling time


@dataclass(frozen=True, slots=True, kw_only=True)
class Ventricle:
    """Sizes at end diastole and how far the cavity shortens, in cm and shares."""

    cavity_cm: float
    septum_cm: float
    wall_cm: float
    fractional_shortening: float

    def cavity_at(self, contraction: Floats) -> Floats:
        """Diameter of the cavity at a contraction from 0 (diastole) to 1 (systole)."""
        return self.cavity_cm * (1 - self.fractional_shortening * contraction)

    def septum_at(self, contraction: Floats) -> Floats:
        """Thickness of the septum."""
        return self._thickness(self.septum_cm, contraction)

    def wall_at(self, contraction: Floats) -> Floats:
        """Thickness of the free wall."""
        return self._thickness(self.wall_cm, contraction)

    def _thickness(self, diastolic_cm: float, contraction: Floats) -> Floats:
        radius_d = self.cavity_cm / 2
        radius = self.cavity_at(contraction) / 2
        area_d = (radius_d + diastolic_cm) ** 2 - radius_d**2
        area = area_d / (1 - SHORTENING_OF_LENGTH * contraction)
        return np.asarray(-radius + np.sqrt(radius**2 + area))


def canine_ventricle(
    weight_kg: float, fractional_shortening: float, enlargement: float, wall: float
) -> Ventricle:
    """Return the ventricle of a dog; the factors are 1 for a normal one."""
    thickness_cm = 0.36 * weight_kg**0.289 * wall
    return Ventricle(
        cavity_cm=1.38 * weight_kg**0.322 * enlargement,
        septum_cm=thickness_cm,
        wall_cm=0.97 * thickness_cm,
        fractional_shortening=fractional_shortening,
    )


def smooth_step(x: Floats) -> Floats:
    """Go from 0 to 1 along a raised cosine."""
    return np.asarray(0.5 - 0.5 * np.cos(np.pi * np.clip(x, 0.0, 1.0)))


def contraction(time_s: Floats, beats: tuple[HeartBeat, ...]) -> Floats:
    """Contraction of the ventricle: 0 at end diastole, 1 at end systole of a usual beat.

    A beat after a short filling starts smaller and contracts less; one after a pause starts
    larger and contracts more.
    """
    usual_s = float(np.median([beat.filling_time_s for beat in beats]))
    result = np.zeros_like(time_s)
    start, force = 0.0, 1.0
    for beat in beats:
        inside = (time_s >= beat.onset_s) & (time_s < beat.end_s)
        force *= beat.vigour
        turn_s = beat.closure_s + BACK_SHARE * (beat.filling_s - beat.closure_s)
        end = 0.3 * _excess(beat.filling_time_s, usual_s)
        t = time_s[inside]
        systole = start + (force - start) * smooth_step(
            (t - beat.ejection_s) / beat.ejection_time_s
        )
        filled = _filling(t, beat, turn_s)
        result[inside] = np.where(t < turn_s, systole, force + (end - force) * filled)
        start, force = end, max(0.15, 1 - 0.7 * _excess(beat.filling_time_s, usual_s))
    return result


def _excess(filling_s: float, usual_s: float) -> float:
    """How much is missing for want of filling time, against the usual beat."""
    return float(np.exp(-filling_s / RECOVERY_S) - np.exp(-usual_s / RECOVERY_S))


def _filling(time_s: Floats, beat: HeartBeat, turn_s: float) -> Floats:
    early = smooth_step((time_s - turn_s) / (beat.early_time_s + beat.filling_s - turn_s))
    if not beat.atrial:
        slow = smooth_step((time_s - beat.filling_s) / beat.filling_time_s)
        return np.asarray(0.8 * early + 0.2 * slow)
    kick = smooth_step((time_s - beat.kick_s) / (beat.end_s - beat.kick_s))
    return np.asarray(EARLY_SHARE * early + (1 - EARLY_SHARE) * kick)
