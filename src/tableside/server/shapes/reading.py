"""The reading as it is in study.json, with the ids by which edits name things."""

from typing import Literal

from pydantic import Field

from tableside.server.shapes.given_and_told import Told, ToldPoint


class Region(Told):
    """A calibrated part of an image. Scales are for showing; the server computes."""

    kind: str
    box: tuple[int, int, int, int] = Field(description="left, top, right, bottom, inclusive")
    cm_per_column: float | None = None
    cm_per_row: float | None = None
    s_per_column: float | None = None
    s_per_row: float | None = None
    m_s_per_column: float | None = None
    m_s_per_row: float | None = None
    baseline_row: float | None = None
    source: str
    wave: str | None = None
    doubt: str | None = None


class Image(Told):
    """One image of the study. ``n`` names it in every address and payload."""

    n: int
    file: str
    mode: str
    frames: int
    rows: int
    columns: int
    view: str | None = None
    mmode: str | None = None
    flow: str | None = None
    vendor: str | None = None
    acquired: str | None = None
    stated_heart_rate: float | None = None
    regions: list[Region]
    doubt: str | None = None
    notes: list[str] = []


class Patient(Told):
    """Who was examined; what is not known is left out."""

    id: str | None = None
    name: str | None = None
    species: Literal["dog", "cat"] | None = None
    breed: str | None = None
    sex: Literal["F", "FN", "M", "MN"] | None = None
    birth_date: str | None = None
    weight_kg: float | None = None
    owner: str | None = None


class Visit(Told):
    """What was noted at the visit; what was not is left out."""

    date: str | None = None
    murmur_grade: int | None = None
    systolic_pressure_mmHg: float | None = None
    systolic_pressure_readings: int | None = None
    sedation: str | None = None
    vertebral_heart_score: float | None = None
    signs: list[str] = []
    ascites: bool | None = None


class Rejected(Told):
    """A file, or a line of the worksheet, that was not used."""

    file: str
    reason: str


class Reference(Told):
    """A published interval."""

    low: float | None = None
    high: float | None = None
    z: float | None = None
    population: str
    source: str
    read: str
    note: str | None = None


class Spread(Told):
    """Standard deviations by origin, in the unit of the number."""

    trace: float
    calibration: float
    beats: float
    acquisition: float
    reading: float


class Beat(Told):
    """One reading in one beat. ``id`` names it in edits; ``by_hand``: a person moved it."""

    id: str
    n: int = Field(description="The image")
    file: str
    frame: int
    value: float
    sd: float | None = None
    time_s: float | None = None
    points: list[ToldPoint]
    used: bool
    reason: str | None = None
    by_hand: bool = False


class Decision(Told):
    """What a person decided about a number.

    ``state``: open (nobody looked), accepted, refused, or changed (accepted, and the value has
    changed since). A number that a person measured is "by hand" until it is decided on.
    """

    state: Literal["open", "accepted", "refused", "changed", "by hand"]
    who: str | None = None
    at: str | None = None
    version: int | None = None


class Measurement(Told):
    """A measured quantity."""

    id: str
    quantity: str
    value: float
    sd: float
    sd_repeat: float
    interval90: tuple[float, float]
    unit: str
    method: Literal["automatic", "caliper"]
    method_detail: str | None = None
    convention: str | None = None
    bound: str | None = None
    spread: Spread
    beats: list[Beat]
    edges: dict[str, float] = {}
    reference: Reference | None = None
    references: list[Reference] = []
    notes: list[str] = []
    decision: Decision
    remarkable: list[str] = Field(
        description="Why one action does not accept it; [] if it does"
    )


class Index(Told):
    """A number computed from measurements."""

    name: str
    value: float
    sd: float
    sd_repeat: float
    interval90: tuple[float, float]
    unit: str
    formula: str
    inputs: list[str]
    bound: str | None = None
    assumptions: list[str]
    sources: list[str]
    reference: Reference | None = None
    references: list[Reference] = []


class Check(Told):
    """One law applied to the numbers."""

    id: str
    verdict: Literal["holds", "doubtful", "fails", "not assessed"]
    probability_unusable: float | None = None
    about: list[str]
    message: str
    remedy: str | None = None
    seconds: float | None = None
    expected: str | None = None
    files: list[str]
    sources: list[str]


class Finding(Told):
    """What a published guideline makes of the numbers."""

    id: str
    title: str
    statement: str
    probability: dict[str, float]
    source: str
    inputs: list[str]
    missing: list[str]
    cautions: list[str]


class Advice(Told):
    """One thing worth doing while the patient is there."""

    rank: int
    action: str
    gain: float | None = None
    seconds: float | None = None
    about: list[str]


class Sufficiency(Told):
    """Whether the examination says enough."""

    verdict: Literal["enough", "worth one more", "not yet"]
    reason: str


class ProtocolItem(Told):
    """One item of a complete study."""

    view: str
    state: Literal["present", "missing", "not credible"]
    why: str | None = None


class Trace(Told):
    """A line that was followed on an image."""

    file: str
    frame: int
    name: str
    points: list[ToldPoint]


class Reading(Told):
    """Everything that is known of the study."""

    schema_: str = Field(alias="schema")
    patient: Patient
    visit: Visit
    images: list[Image]
    rejected: list[Rejected]
    measurements: list[Measurement]
    indices: list[Index]
    checks: list[Check]
    findings: list[Finding]
    advice: list[Advice]
    sufficiency: Sufficiency | None = None
    protocol: list[ProtocolItem]
    traces: list[Trace]
    notes: list[str]
    cautions: list[str]


class Changed(Told):
    """What differs between two readings; a list that did not change is left out.

    Each entry of a list replaces the one of the same id (``id``, ``name``, ``n`` for images,
    ``view`` for the protocol, ``rank`` for advice). ``removed`` gives the ids that are gone,
    ``order`` all ids in their order, both by list and only where they differ. ``traces``,
    ``advice``, ``sufficiency``, ``protocol``, ``rejected``, ``notes`` and ``cautions`` come
    whole.
    """

    patient: Patient | None = None
    visit: Visit | None = None
    images: list[Image] = []
    measurements: list[Measurement] = []
    indices: list[Index] = []
    checks: list[Check] = []
    findings: list[Finding] = []
    advice: list[Advice] | None = None
    sufficiency: Sufficiency | None = None
    protocol: list[ProtocolItem] | None = None
    traces: list[Trace] | None = None
    rejected: list[Rejected] | None = None
    notes: list[str] | None = None
    cautions: list[str] | None = None
    removed: dict[str, list[str]] = {}
    order: dict[str, list[str]] = {}
