"""What the letter says, as plain data: the template only lays it out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any

from tableside.model import (
    Check,
    Finding,
    Patient,
    ProtocolItem,
    Reading,
    Rejected,
    Sex,
    Verdict,
    Visit,
)
from tableside.report.cautions import cautions
from tableside.report.citations import Citations
from tableside.report.digits import in_words, percent
from tableside.report.doubt import DOUBTED, doubted_below, doubted_numbers
from tableside.report.letter_table import measurement_table
from tableside.report.pictures import Drawn

Json = dict[str, Any]
LONGEST_NAME = 60
SHOWN_DOUBTS = 6  # study.json has them all
SHOWN_ADVICE = 4
PLAIN = 0.9  # a probability of "normal" above which a finding need not be read first
WEIGHTY = (
    "mmvd-stage",
    "feline-phenotype",
    "dcm-screen",
    "subaortic-stenosis",
    "pulmonic-stenosis",
    "pulmonary-hypertension",
    "systolic-function",
)
NAMED_FILES = 8  # of one reason; the rest are counted
SEX_WORDS = {
    Sex.FEMALE: "female",
    Sex.FEMALE_NEUTERED: "female, neutered",
    Sex.MALE: "male",
    Sex.MALE_NEUTERED: "male, neutered",
}


def letter_text(reading: Reading, pictures: Sequence[Drawn]) -> Json:
    """Return everything the letter prints, in the order of the letter."""
    patient, visit = reading.exam.patient, reading.exam.visit
    cited = Citations()
    doubted = doubted_numbers(reading)
    doubts = _worst_first(reading.checks)
    main, also = _by_weight(reading.findings)
    return {
        "name": _short(patient.name) or "Patient without a name",
        "day": _day(visit.date),
        "title": f"Echocardiogram {_of_day(visit.date)}",
        "patient": _patient(patient, visit.date),
        "visit": _visit(visit),
        "conclusion": [_conclusion(one, cited, doubted) for one in main],
        "also": [_conclusion(one, cited, doubted) for one in also],
        "doubts": [_doubt(check) for check in doubts[:SHOWN_DOUBTS]],
        "checks": _tally(reading.checks, len(doubts)),
        "advice": _advice(reading, doubts[:SHOWN_DOUBTS]),
        "table": measurement_table(reading, cited, doubted),
        "pictures": [
            {
                "file": f"picture-{place}.png",
                "caption": one.caption,
                "measured": one.measured,
                "source": one.file,
                "alternative": one.alternative,
                "wide": one.wide,
            }
            for place, one in enumerate(pictures, 1)
        ],
        "findings": [_finding(one, cited) for one in reading.findings],
        "views": _views(reading.protocol),
        "rejected": _rejected(reading.exam.study.rejected),
        "assumptions": _assumptions(reading),
        "notes": _notes(reading),
        "sources": cited.listed(),
        "cautions": list(cautions(reading)),
    }


def _patient(patient: Patient, day: date | None) -> str:
    facts = [
        _short(patient.breed),
        patient.species or "species not given",
        SEX_WORDS[patient.sex] if patient.sex else None,
        _age(patient.birth_date, day),
        f"{patient.weight_kg:g} kg" if patient.weight_kg is not None else "weight not given",
        f"id {_short(patient.id)}" if patient.id else None,
        f"owner {_short(patient.owner)}" if patient.owner else None,
    ]
    return " · ".join(filter(None, facts))


def _age(born: date | None, day: date | None) -> str | None:
    if born is None or day is None or day < born:
        return None
    months = (day.year - born.year) * 12 + day.month - born.month - (day.day < born.day)
    years, rest = divmod(months, 12)
    return f"{years} y {rest} mo" if years else f"{rest} mo"


def _visit(visit: Visit) -> str:
    pressure = visit.systolic_pressure_mmHg
    readings = visit.systolic_pressure_readings
    taken = f" ({readings} readings)" if readings else ""
    facts = [
        f"murmur {visit.murmur_grade} of 6" if visit.murmur_grade is not None else None,
        f"systolic pressure {pressure:g} mmHg{taken}" if pressure is not None else None,
        f"sedation {visit.sedation}" if visit.sedation else None,
        f"vertebral heart score {visit.vertebral_heart_score:g}"
        if visit.vertebral_heart_score is not None
        else None,
        None if visit.ascites is None else ("ascites" if visit.ascites else "no ascites"),
        *visit.signs,
    ]
    said = " · ".join(filter(None, facts))
    return said[:1].upper() + said[1:]


def _by_weight(findings: Sequence[Finding]) -> tuple[list[Finding], list[Finding]]:
    """Return the findings to read first and the others.

    First stand stage or phenotype, pulmonary pressure and function, and an outflow or a
    screen that is not plainly normal.
    """
    weighty = [one for one in findings if one.id in WEIGHTY and not _is_plainly_normal(one)]
    main = sorted(weighty, key=lambda one: WEIGHTY.index(one.id))
    return main, [one for one in findings if one not in main]


def _is_plainly_normal(one: Finding) -> bool:
    return one.probability.get("normal", 0.0) >= PLAIN


def _conclusion(one: Finding, cited: Citations, doubted: Mapping[str, Sequence[str]]) -> Json:
    shares = sorted(one.probability.items(), key=lambda item: -item[1])
    said = f"{shares[0][0]}: {in_words(shares[0][1])}" if shares else ""
    return {
        "title": one.title,
        "statement": one.statement,
        "said": said,
        "source": cited.mark(one.source),
        "doubted": ", ".join(doubted_below(one, doubted)),
        "missing": "" if shares else _unsaid(one),
        "shares": [
            {"name": name, "share": share, "percent": percent(share)}
            for name, share in shares
            if share >= 0.01
        ],
    }


def _unsaid(one: Finding) -> str:
    """Return what a finding lacks and does not name in its own sentence."""
    return ", ".join(name for name in one.missing if name not in one.statement)


def _worst_first(checks: Iterable[Check]) -> list[Check]:
    doubted = [check for check in checks if check.verdict in DOUBTED]
    return sorted(
        doubted,
        key=lambda one: (one.verdict is not Verdict.FAILS, -(one.probability_unusable or 0.0)),
    )


def _doubt(one: Check) -> Json:
    chance = one.probability_unusable
    return {
        "verdict": str(one.verdict),
        "about": ", ".join(one.about),
        "message": one.message,
        "remedy": one.remedy or "",
        "seconds": _seconds(one.seconds),
        "chance": "" if chance is None else f"{percent(chance)} that it must not be used",
    }


def _tally(checks: Sequence[Check], doubts: int) -> str:
    """Return how many checks came to each verdict, in words."""
    if not checks:
        return "No checks were made: too little was measured."
    counts = [(verdict, sum(one.verdict is verdict for one in checks)) for verdict in Verdict]
    said = ", ".join(f"{count} {_as_verb(one, count)}" for one, count in counts if count)
    more = f" The worst {SHOWN_DOUBTS} are shown." if doubts > SHOWN_DOUBTS else ""
    number = f"{len(checks)} check{'s' if len(checks) > 1 else ''}"
    return f"Of {number} of the numbers against each other: {said}.{more}"


def _as_verb(verdict: Verdict, count: int) -> str:
    """Return a verdict as it follows a number: ``1 holds``, ``8 hold``."""
    word = str(verdict)
    return word.removesuffix("s") if count > 1 and word.endswith("s") else word


def _advice(reading: Reading, doubts: Sequence[Check]) -> list[Json]:
    """Return the next best repeats that do not stand beside a doubt already."""
    said = tuple(check.remedy for check in doubts if check.remedy)
    ranked = sorted(reading.advice, key=lambda one: one.rank)
    return [
        {
            "action": one.action,
            "about": ", ".join(one.about),
            "seconds": _seconds(one.seconds),
        }
        for one in ranked
        if not one.action.startswith(said)
    ][:SHOWN_ADVICE]


def _seconds(seconds: int | None) -> str:
    return "" if seconds is None else f"about {seconds} s"


def _finding(one: Finding, cited: Citations) -> Json:
    return {
        "title": one.title,
        "inputs": "; ".join(one.inputs),
        "missing": ", ".join(one.missing),
        "cautions": "; ".join(text.rstrip(". ") for text in one.cautions),
        "source": cited.mark(one.source),
    }


def _views(protocol: Sequence[ProtocolItem]) -> list[Json]:
    """Return the views by state and reason, what is lacking first."""
    groups: dict[tuple[str, str], list[str]] = {}
    for state in ("not credible", "missing", "present"):
        for one in protocol:
            if one.state == state:
                groups.setdefault((state, one.why or ""), []).append(one.view)
    return [
        {"state": state, "why": why, "count": len(names), "names": "; ".join(names)}
        for (state, why), names in groups.items()
    ]


def _rejected(rejected: Sequence[Rejected]) -> list[Json]:
    """Return the reasons, each with its files; many files are counted, not listed."""
    by_reason: dict[str, list[str]] = {}
    for one in rejected:
        by_reason.setdefault(one.reason, []).append(one.file)
    return [{"reason": reason, "files": _few(names)} for reason, names in by_reason.items()]


def _few(names: Sequence[str]) -> str:
    more = len(names) - NAMED_FILES
    return ", ".join(names[:NAMED_FILES]) + (f" and {more} more" if more > 0 else "")


def _assumptions(reading: Reading) -> list[str]:
    """Return each assumption once, with the indices that rest on it."""
    resting: dict[str, list[str]] = {}
    for one in reading.exam.indices:
        for assumption in one.assumptions:
            resting.setdefault(assumption, []).append(one.name)
    return [f"{', '.join(names)}: {assumption}" for assumption, names in resting.items()]


def _notes(reading: Reading) -> list[str]:
    """Return the remarks; what is said of many images is said once."""
    study = reading.exam.study
    files = {image.file for image in study.images}
    said: dict[str, dict[str, None]] = {}
    for note in (*reading.notes, *study.notes):
        file, _, rest = note.partition(": ")
        text, about = (rest, {file: None}) if file in files and rest else (note, {})
        said.setdefault(text, {}).update(about)
    for image in study.images:
        if image.doubt:
            said.setdefault(image.doubt, {})[image.file] = None
    of_numbers = [
        f"{one.quantity}: {note}" for one in reading.exam.measurements for note in one.notes
    ]
    of_images = [
        f"{_few(list(about))}: {text}" if about else text for text, about in said.items()
    ]
    return list(dict.fromkeys([*of_images, *of_numbers]))


def _day(day: date | None) -> str:
    return f"{day.day} {day:%B %Y}" if day else "date not given"


def _of_day(day: date | None) -> str:
    return f"of {_day(day)}" if day else "without a date"


def _short(name: str | None) -> str:
    """Return a name that fits above a letter; a long one ends in dots."""
    clean = " ".join((name or "").split())
    return clean if len(clean) <= LONGEST_NAME else clean[: LONGEST_NAME - 1].rstrip() + "…"
