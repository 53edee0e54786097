"""The structured report: every number in an object that any archive stores.

Sources: DICOM PS3.3 A.35.3 (Comprehensive SR), C.17; PS3.16 TID 5200 and TID 1500.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from importlib.metadata import version
from io import BytesIO
from pathlib import Path
from typing import Any

from tableside.model import DicomIdentity, Image, Reading
from tableside.report.codes import private_scheme
from tableside.report.content import Links
from tableside.report.study_json import study_json
from tableside.report.subject import patient_attributes
from tableside.report.trees import tree
from tableside.report.uids import derived_uid

KEPT_FROM_ARCHIVE = (
    "AccessionNumber",
    "IssuerOfPatientID",
    "PatientAge",
    "PatientID",
    "PatientName",
    "ReferringPhysicianName",
    "ResponsibleOrganization",
    "ResponsiblePerson",
    "ResponsiblePersonRole",
    "StudyDate",
    "StudyDescription",
    "StudyID",
    "StudyTime",
)
EMPTY = dict.fromkeys(
    ("AccessionNumber", "ReferringPhysicianName", "StudyDate", "StudyID", "StudyTime"), ""
)
SERIES_NUMBER = 9000  # far from those of the machine
COMPREHENSIVE_SR = "1.2.840.10008.5.1.4.1.1.88.33"
EXPLICIT_LITTLE_ENDIAN = "1.2.840.10008.1.2.1"
NOT_SIGNED = {
    "CompletionFlag": "PARTIAL",
    "PreliminaryFlag": "PRELIMINARY",
    "VerificationFlag": "UNVERIFIED",
}
NO_DATE = dt.datetime(1900, 1, 1)  # the standard asks for a content date


def structured_report(
    reading: Reading, evidence: Mapping[str, Path], *, template: str = "5200"
) -> bytes:
    """Write a reading as a DICOM Comprehensive SR.

    Parameters
    ----------
    reading : Reading
    evidence : mapping of str to Path
        The DICOM files of the study by the name they have in the reading. Only the header of
        the first is read, so that the report is filed beside the images.
    template : str
        ``5200`` (echocardiography) or ``1500`` (imaging measurements).

    Returns
    -------
    bytes
        A DICOM file. It is marked partial, preliminary and unverified: nobody has signed it.

    Raises
    ------
    InputError
        For an unknown template.

    Notes
    -----
    A number is linked to the frame and the points it was read from where the image carries
    valid identifiers; an image without them (a picture, a broken UID) stays unlinked. Nothing
    depends on the clock: the same reading gives the same bytes.
    """
    linked = Links.of(reading).images
    number = version("tableside")
    report = _file(derived_uid(template, study_json(reading)))
    _fill(report, _patient_and_study(reading, linked, evidence))
    _fill(report, _series_and_equipment(report.SOPInstanceUID, number))
    _fill(report, {**NOT_SIGNED, **_content_time(reading)})
    _add_evidence(report, linked)
    for element in tree(reading, template, number):
        report.add(element)
    written = BytesIO()
    report.save_as(written, enforce_file_format=True)
    return written.getvalue()


def _file(uid: str) -> Any:
    """Return an empty object with its identity (SOP Common, PS3.3 C.12.1)."""
    from pydicom import Dataset  # noqa: PLC0415
    from pydicom.dataset import FileMetaDataset  # noqa: PLC0415
    from pydicom.uid import UID  # noqa: PLC0415

    report = Dataset()
    report.file_meta = FileMetaDataset()
    report.file_meta.TransferSyntaxUID = UID(EXPLICIT_LITTLE_ENDIAN)
    report.SpecificCharacterSet = "ISO_IR 192"
    _fill(report, {"SOPClassUID": COMPREHENSIVE_SR, "SOPInstanceUID": uid})
    report.CodingSchemeIdentificationSequence = [_coding_scheme()]
    return report


def _fill(report: Any, fields: Mapping[str, Any]) -> None:
    for keyword, value in fields.items():
        setattr(report, keyword, value)


def _patient_and_study(
    reading: Reading, linked: Mapping[str, Image], evidence: Mapping[str, Path]
) -> dict[str, Any]:
    """Return the attributes of the patient and the study.

    What names the patient and the study is taken from the archive's own files, so that the
    report lands beside the images; what describes the animal is taken from the reading, where
    the worksheet has already won.
    """
    first = next(iter(linked.values()), None)
    study = first.identity.study if first and first.identity else _study_uid(reading)
    moment = _moment(reading)
    day = moment.strftime("%Y%m%d") if moment else ""
    given = evidence.get(first.file) if first else None
    return {
        **EMPTY,
        "StudyInstanceUID": study,
        "StudyDate": day,
        **patient_attributes(reading.exam.patient),
        **(_from_archive(given) if given else {}),
    }


def _study_uid(reading: Reading) -> str:
    study = reading.exam.study
    day = study.visit.date.isoformat() if study.visit.date else ""
    return derived_uid("study", study.patient.id or "", study.patient.name or "", day)


def _from_archive(path: Path) -> dict[str, Any]:
    """Return what names patient and study in the archive; an unreadable file gives nothing."""
    from pydicom import dcmread  # noqa: PLC0415

    try:
        header = dcmread(path, stop_before_pixels=True, specific_tags=list(KEPT_FROM_ARCHIVE))
        return {name: str(header[name].value) for name in KEPT_FROM_ARCHIVE if header.get(name)}
    except Exception:  # a hostile header may raise anything; the report does without it
        return {}


def _series_and_equipment(uid: str, number: str) -> dict[str, Any]:
    """Return SR Document Series (C.17.1) and General Equipment (C.7.5.1)."""
    return {
        "Modality": "SR",
        "SeriesInstanceUID": derived_uid("series", uid),
        "SeriesNumber": SERIES_NUMBER,
        "SeriesDescription": "tableside: measurements",
        "ReferencedPerformedProcedureStepSequence": [],
        "Manufacturer": "tableside",
        "ManufacturerModelName": "tableside",
        "SoftwareVersions": number,
        "InstanceNumber": 1,
        "PerformedProcedureCodeSequence": [],
    }


def _coding_scheme() -> Any:
    from pydicom import Dataset  # noqa: PLC0415

    scheme = private_scheme()
    item = Dataset()
    item.CodingSchemeDesignator = scheme["designator"]
    item.CodingSchemeName = scheme["name"]
    item.CodingSchemeResponsibleOrganization = scheme["organization"]
    return item


def _add_evidence(report: Any, linked: Mapping[str, Image]) -> None:
    """List the images by study and series (SR Document General, C.17.2).

    Images of the report's own study are evidence of the current procedure, others pertinent
    evidence.
    """
    own: list[Any] = []
    other: list[Any] = []
    identities = dict.fromkeys(image.identity for image in linked.values() if image.identity)
    for study in dict.fromkeys(one.study for one in identities):
        here = [one for one in identities if one.study == study]
        (own if study == report.StudyInstanceUID else other).append(_references(study, here))
    if own:
        report.CurrentRequestedProcedureEvidenceSequence = own
    if other:
        report.PertinentOtherEvidenceSequence = other


def _references(study: str, identities: Sequence[DicomIdentity]) -> Any:
    """Return one study of a hierarchical SOP instance reference (PS3.3 Table C.17-3)."""
    from pydicom import Dataset  # noqa: PLC0415

    item = Dataset()
    item.StudyInstanceUID, item.ReferencedSeriesSequence = study, []
    for series in dict.fromkeys(one.series for one in identities):
        below = Dataset()
        below.SeriesInstanceUID = series
        below.ReferencedSOPSequence = [
            _instance(one) for one in identities if one.series == series
        ]
        item.ReferencedSeriesSequence.append(below)
    return item


def _instance(one: DicomIdentity) -> Any:
    from pydicom import Dataset  # noqa: PLC0415

    item = Dataset()
    item.ReferencedSOPClassUID, item.ReferencedSOPInstanceUID = one.sop_class, one.sop_instance
    return item


def _moment(reading: Reading) -> dt.datetime | None:
    """Return when the study was made: the last image, or the day of the visit."""
    times = [image.acquired for image in reading.exam.study.images if image.acquired]
    if times:
        return max(times)
    day = reading.exam.visit.date
    return dt.datetime.combine(day, dt.time()) if day else None


def _content_time(reading: Reading) -> dict[str, str]:
    moment = _moment(reading) or NO_DATE
    return {
        "ContentDate": moment.strftime("%Y%m%d"),
        "ContentTime": moment.strftime("%H%M%S"),
    }
