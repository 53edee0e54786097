"""Every index: which formula gives it, in which unit, from which measurements.

Where one index stands twice, the first line whose measurements are there is used; the index
then says by which method it came.
"""

from collections.abc import Callable
from typing import Any

from tableside.derive.catalogue_flows import DOPPLER, FLOW, PRESSURES, TIMING
from tableside.derive.catalogue_sizes import BODY, CHAMBERS, VOLUMES
from tableside.derive.chambers import diameter_lost
from tableside.derive.doppler import bernoulli_with_proximal, mean_gradient, speed_share
from tableside.derive.flow import continuity_area, cross_section, shunt_ratio
from tableside.derive.formula import Formula
from tableside.derive.leak import orifice_area, proximal_surface_flow, volume_through
from tableside.derive.pressures import pressure_beyond
from tableside.derive.timing import performance_index
from tableside.derive.volumes import (
    biplane_discs_volume,
    bullet_volume,
    discs_volume,
    left_atrial_volume,
)

FORMULAS: tuple[Formula, ...] = (
    *BODY,
    *CHAMBERS,
    *VOLUMES,
    *DOPPLER,
    *PRESSURES,
    *FLOW,
    *TIMING,
)

# Formulas that no measurement of the catalogue of quantities feeds: for direct use.
WITHOUT_MEASUREMENT: tuple[Callable[..., Any], ...] = (
    bernoulli_with_proximal,
    biplane_discs_volume,
    bullet_volume,
    continuity_area,
    cross_section,
    diameter_lost,
    discs_volume,
    left_atrial_volume,
    mean_gradient,
    orifice_area,
    performance_index,
    pressure_beyond,
    proximal_surface_flow,
    shunt_ratio,
    speed_share,
    volume_through,
)
