"""What the routes do: each function takes a study or the desk and gives a shape."""

from collections.abc import Iterator
from typing import Any

from tableside.credibility.views import protocols
from tableside.model import Image, Mode, Species, Suggestion
from tableside.model.suggestion import SOMETHING_ELSE
from tableside.report.digits import significant
from tableside.server.desk import Desk
from tableside.server.document import image_json, numbers_of, refused_json
from tableside.server.editing import edits_json
from tableside.server.events import Event
from tableside.server.in_words import edit_news
from tableside.server.live_study import LiveStudy, State
from tableside.server.shapes.study import ImageDetail, Listed
from tableside.server.summary import arrived, read_summary

LABELLED: dict[Mode, str] = {
    Mode.TWO_D: "view",
    Mode.COLOUR: "view",
    Mode.M_MODE: "mmode",
    Mode.COLOUR_M_MODE: "mmode",
    Mode.SPECTRAL: "flow",
}


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
    progress, state = live.progress, live.state
    told: dict[str, Any] = {
        "id": live.id,
        "version": state.version if state else live.log.version,
        "status": live.status,
        "progress": progress.model_dump() if progress else None,
        "failure": live.failure,
        "reading": None,
        "rejected": [
            {"file": one.file, "reason": one.reason} for one in live.originals.rejected
        ],
        "notices": list(_notices(live)),
    }
    if state is None:
        return told
    measurements = state.document["measurements"]
    refused = refused_json(state.now, numbers_of(live.opened.study.images))
    return {
        **told,
        "reading": state.document,
        "refused": refused,
        "suggestions": list(_suggestions(live, state)),
        "decisions": {one["id"]: one["decision"] for one in (*measurements, *refused)},
        "edits": edits_json(live),
    }


def _notices(live: LiveStudy) -> Iterator[str]:
    if live.log.cut_off:
        yield (
            "the last edit before the computer or the program stopped was not kept whole and "
            "is left out; everything before it is there"
        )


def _suggestions(live: LiveStudy, state: State) -> Iterator[dict[str, Any]]:
    """Yield labels for the images without one: judged by the picture, else by what lacks."""
    exam = state.now.reading.exam
    numbers = numbers_of(live.opened.study.images)
    for image in exam.study.images:
        judged = state.now.suggestions.get(image.file)
        kind = LABELLED.get(image.mode)
        if judged is not None:
            yield {"n": numbers[image.file], **_judged(judged)}
        elif kind is not None and _label(image, kind) is None:
            labels = _lacking(image, state)
            if labels:
                yield {"n": numbers[image.file], "kind": kind, "labels": labels}


def _judged(judged: Suggestion) -> dict[str, Any]:
    likeliest = [one for one in judged.likeliest if one[0] != SOMETHING_ELSE]
    return {
        "kind": judged.kind,
        "labels": [label for label, _ in likeliest],
        "probabilities": [significant(share) for _, share in likeliest],
        "evidence": list(judged.evidence),
        "certain": judged.certain,
    }


def _lacking(image: Image, state: State) -> list[str]:
    """Return the labels that an image of this kind could have, those the study lacks first."""
    reading = state.now.reading
    species = reading.exam.patient.species or Species.DOG
    items = next(one for one in protocols().values() if one.species is species).items
    missing = {one.view for one in reading.protocol if one.state == "missing"}
    ordered = sorted(items, key=lambda item: item.name not in missing)
    labels = [label for item in ordered if item.is_kind_of(image) for label in item.labels]
    return list(dict.fromkeys(labels))


def _label(image: Image, kind: str) -> str | None:
    return {"view": image.view, "mmode": image.mmode, "flow": image.flow}[kind]


def image_detail(live: LiveStudy, number: int) -> ImageDetail:
    """Return what is needed to show and play an image."""
    image = live.image(number)
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
    progress = live.progress
    if progress is not None:
        first.append(Event(kind="progress", data=progress.model_dump()))
    if live.status == "ready":
        first.append(Event(kind="reading", data={"version": live.log.version}))
    if live.failure is not None:
        first.append(Event(kind="failed", data={"detail": live.failure}))
    since = int(last) if last and last.isdecimal() else live.log.version
    images = live.opened.study.images if live.log.records[since:] else ()
    return first + [edit_news(record, images) for record in live.log.records[since:]]
