"""What the list shows of a study, kept beside it so that the list opens no study."""

import datetime as dt
import json
from pathlib import Path
from typing import Any

from tableside.model import Reading

SUMMARY = "summary.json"  # made anew with every reading; nothing rests on it


def write_summary(folder: Path, reading: Reading) -> None:
    """Write what the list shows."""
    patient, visit = reading.exam.patient, reading.exam.visit
    summary = {
        "patient": patient.name,
        "patient_id": patient.id,
        "species": patient.species,
        "breed": patient.breed,
        "owner": patient.owner,
        "date": visit.date.isoformat() if visit.date else None,
        "images": len(reading.exam.study.images),
    }
    if read_summary(folder) == summary:
        return
    unfinished = folder / f".{SUMMARY}"
    unfinished.write_text(json.dumps(summary), encoding="utf-8")
    unfinished.replace(folder / SUMMARY)


def read_summary(folder: Path) -> dict[str, Any]:
    """Return what the list shows of a study that was read before; {} when it was not."""
    try:
        found = json.loads((folder / SUMMARY).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}


def arrived(folder: Path) -> str:
    """Return when a study came, in UTC."""
    moment = dt.datetime.fromtimestamp((folder / "originals.json").stat().st_mtime, dt.UTC)
    return moment.isoformat(timespec="seconds")
