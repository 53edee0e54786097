"""Frozen records. Every stage takes some of them and gives others back."""

from tableside.model.citations import Citation, citation, citations
from tableside.model.exam import Exam, Number
from tableside.model.joint import Joint
from tableside.model.measurement import (
    Z90,
    Beat,
    Index,
    Measurement,
    Reference,
    Spread,
    Trace,
)
from tableside.model.patient import Patient, Sex, Species, Visit
from tableside.model.quantities import Quantity, Variation, quantities, quantity
from tableside.model.reading import (
    Advice,
    Check,
    Finding,
    ProtocolItem,
    Reading,
    Sufficiency,
    Verdict,
)
from tableside.model.region import Axis, Box, Point, Region, RegionKind
from tableside.model.rhythm import Rhythm, RWave
from tableside.model.study import (
    FLOWS,
    MMODE_LEVELS,
    VIEWS,
    Caliper,
    DicomIdentity,
    Image,
    Mode,
    Rejected,
    Study,
)
from tableside.model.suggestion import SOMETHING_ELSE, Suggestion

__all__ = [
    "FLOWS",
    "MMODE_LEVELS",
    "SOMETHING_ELSE",
    "VIEWS",
    "Z90",
    "Advice",
    "Axis",
    "Beat",
    "Box",
    "Caliper",
    "Check",
    "Citation",
    "DicomIdentity",
    "Exam",
    "Finding",
    "Image",
    "Index",
    "Joint",
    "Measurement",
    "Mode",
    "Number",
    "Patient",
    "Point",
    "ProtocolItem",
    "Quantity",
    "RWave",
    "Reading",
    "Reference",
    "Region",
    "RegionKind",
    "Rejected",
    "Rhythm",
    "Sex",
    "Species",
    "Spread",
    "Study",
    "Sufficiency",
    "Suggestion",
    "Trace",
    "Variation",
    "Verdict",
    "Visit",
    "citation",
    "citations",
    "quantities",
    "quantity",
]
