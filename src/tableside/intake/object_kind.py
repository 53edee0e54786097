"""Which DICOM objects are ultrasound images, and what to say of the others."""

import re

from pydicom.dataset import Dataset

from tableside.errors import UnreadableFile
from tableside.intake.header import Header
from tableside.intake.passed_over import PassedOver
from tableside.model import DicomIdentity

_ROOT = "1.2.840.10008.5.1.4.1.1."
_ULTRASOUND = frozenset(_ROOT + end for end in ("6", "6.1", "3", "3.1"))
_CAPTURES = frozenset(_ROOT + end for end in ("7", "7.1", "7.2", "7.3", "7.4"))
_MEDIA_INDEX = "1.2.840.10008.1.3.10"
_KEY_OBJECTS = _ROOT + "88.59"
_PRESENTATIONS = _ROOT + "11."
_OTHERS = (
    (_ROOT + "88.", "a structured report, not an image: kept out"),
    (_ROOT + "104.", "a document, not an image: kept out"),
    (_ROOT + "6.2", "a 3-D volume, which is not read: export 2-D clips from it"),
    (_ROOT + "9.", "a recording without a picture: kept out"),
)
_OTHER_MACHINES = {
    "CT": "a CT image",
    "MR": "an MR image",
    "CR": "a radiograph",
    "DX": "a radiograph",
    "RF": "a fluoroscopy image",
    "XA": "an angiogram",
    "MG": "a mammogram",
    "NM": "a scintigram",
    "PT": "a PET image",
    "ES": "an endoscopy image",
}
_UID = re.compile(r"[0-9.]{1,64}")


def require_ultrasound(header: Header) -> None:
    """Let ultrasound images and screen captures pass.

    Raises
    ------
    UnreadableFile
        For every other object, saying what it is.
    PassedOver
        For the index of a medium, key objects and display settings.
    """
    kind, machine = header.kind, str(header.dataset.get("Modality") or "")
    if kind in (_MEDIA_INDEX, _KEY_OBJECTS) or kind.startswith(_PRESENTATIONS):
        raise PassedOver(is_index=kind == _MEDIA_INDEX)
    if kind in _ULTRASOUND:
        return
    for start, reason in _OTHERS:
        if kind.startswith(start):
            raise UnreadableFile(reason)
    if machine in _OTHER_MACHINES:
        raise UnreadableFile(f"{_OTHER_MACHINES[machine]}, not ultrasound: kept out")
    if kind in _CAPTURES or machine == "US":
        return
    raise UnreadableFile("not an ultrasound image: kept out")


def identity(dataset: Dataset) -> tuple[DicomIdentity | None, str | None]:
    """Return the identifiers, or None with a note when they are not valid ones.

    They are never used as file names; one such as ``../../x`` is not a UID at all (PS3.5 9).
    """
    names = ("SOPClassUID", "SOPInstanceUID", "StudyInstanceUID", "SeriesInstanceUID")
    uids = [str(dataset.get(name) or "") for name in names]
    if all(_UID.fullmatch(uid) for uid in uids):
        kind, instance, study, series = uids
        return (
            DicomIdentity(sop_class=kind, sop_instance=instance, study=study, series=series),
            None,
        )
    return None, "its DICOM identifiers are not valid; reports cannot point back to it"
