"""What the routes do: each function takes a study or the desk and gives a shape."""

from typing import Any

from tableside.server.desk import Desk
from tableside.server.document import image_json, numbers_of, reading_json
from tableside.server.events import Event
from tableside.server.live_study import LiveStudy, arrived, read_summary
from tableside.server.shapes.study import ImageDetail, Listed


def list_studies(desk: Desk, search: str) -> list[Listed]:
    """Return the studies that hold every word of ``search``."""
    words = search.lower().split()
    listed = (_listed(desk, study) for study in desk.store.ids())
    return [one for one in listed if all(word in _words(one) for word in words)]


def _listed(desk: Desk, study: str) -> Listed:
    live = desk.in_memory(study)
    folder = desk.store.folder(study)
    return Listed(
        id=study,
        **read_summary(folder),
        status=live.status if live else "ready",
        progress=live.progress if live else None,
        failure=live.failure if live else None,
        version=live.log.version if live else 0,
        arrived=arrived(folder),
    )


def _words(one: Listed) -> str:
    fields = (one.patient, one.patient_id, one.species, one.breed, one.owner, one.date)
    return " ".join(field for field in fields if field).lower()


def study_state(live: LiveStudy) -> dict[str, Any]:
    """Return a study as of now."""
    with live.lock:
        state: dict[str, Any] = {
            "id": live.id,
            "version": live.log.version,
            "status": live.status,
            "progress": live.progress.model_dump() if live.progress else None,
            "failure": live.failure,
            "reading": None,
            "rejected": [
                {"file": one.file, "reason": one.reason} for one in live.originals.rejected
            ],
        }
        if live.reading is not None:
            numbers = numbers_of(live.opened.study.images)
            state["reading"] = reading_json(live.reading, numbers)
        return state


def image_detail(live: LiveStudy, number: int) -> ImageDetail:
    """Return what is needed to show and play an image."""
    image = live.image(number)
    shown = live.reading.exam.image(image.file) if live.reading else None
    image = shown or image
    return ImageDetail(
        n=number,
        file=image.file,
        mode=image.mode,
        frames=image.frames,
        rows=image.rows,
        columns=image.columns,
        frame_times_s=list(image.frame_times_s),
        r_wave_times_s=list(image.r_wave_times_s),
        regions=image_json(image)["regions"],
        view=image.view,
        mmode=image.mmode,
        flow=image.flow,
        stated_heart_rate=image.stated_heart_rate,
        vendor=image.vendor,
        acquired=image.acquired.isoformat() if image.acquired else None,
        coding="stored" if live.opened.stored_jpeg(image.file, 0) else "transcoded",
        doubt=image.doubt,
        notes=list(image.notes),
    )


def news_since(live: LiveStudy, last: str | None) -> list[Event]:
    """Return the state as news, then the edits after a version."""
    first: list[Event] = []
    if live.progress is not None:
        first.append(Event(kind="progress", data=live.progress.model_dump()))
    if live.status == "ready":
        first.append(Event(kind="reading", data={"version": live.log.version}))
    if live.failure is not None:
        first.append(Event(kind="failed", data={"detail": live.failure}))
    since = int(last) if last and last.isdigit() else live.log.version
    first += [
        Event(
            kind="edit",
            id=record.version,
            data={"version": record.version, "kind": record.kind, "who": record.who},
        )
        for record in live.log.records[since:]
    ]
    return first
