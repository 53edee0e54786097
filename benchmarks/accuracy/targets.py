"""What is asked of each quantity, in its unit of error, and when an error is gross.

Lengths are scored in millimetres, everything else in percent of the truth.
"""

from dataclasses import dataclass

GROSS_MM, GROSS_VELOCITY, GROSS_OTHER = 3.0, 15.0, 25.0
LEAST_SHARE, MOST_GROSS = 90.0, 1.0
COVERAGE = (85.0, 95.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """Limits of bias, mean absolute error and standard deviation; None where none is set."""

    bias: float | None = None
    mae: float | None = None
    sd: float | None = None


WALL = Target(bias=0.5, mae=0.7)
PEAK = Target(bias=2.0, sd=3.0)
INTEGRAL = Target(bias=3.0, sd=5.0)
TARGETS = {
    "LVIDd": Target(bias=0.3, mae=0.8),
    "LVIDs": Target(bias=0.6, mae=1.0),
    "IVSd": WALL,
    "IVSs": WALL,
    "LVPWd": WALL,
    "LVPWs": WALL,
    "EPSS": Target(mae=1.0),
    "E": Target(sd=4.0),
    "A": Target(sd=5.0),
    "DT": Target(sd=10.0),
    **{f"{name}_Vmax": PEAK for name in ("MR", "TR", "PR", "AR", "AV", "PV")},
    **{f"{name}_VTI": INTEGRAL for name in ("MR", "AV", "PV")},
}
LENGTHS = ("LVIDd", "LVIDs", "IVSd", "IVSs", "LVPWd", "LVPWs", "EPSS", "Ao", "LA",
           "TAPSE", "MAPSE")  # fmt: skip
VELOCITIES = ("E", "A", "S'", "E'", "A'", "PR_Vend")


def is_length(quantity: str) -> bool:
    """Whether errors are in millimetres."""
    return quantity in LENGTHS


def scaled(quantity: str, error: float, truth: float) -> float:
    """Return an error in millimetres, or in percent of the truth."""
    return 10.0 * error if is_length(quantity) else 100.0 * error / truth


def gross_limit(quantity: str) -> float:
    """Return the size of error that is gross."""
    if is_length(quantity):
        return GROSS_MM
    is_velocity = quantity in VELOCITIES or quantity.endswith("_Vmax")
    return GROSS_VELOCITY if is_velocity else GROSS_OTHER
