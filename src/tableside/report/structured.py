"""The structured report: every number in an object that any archive stores.

Sources: DICOM PS3.3 A.35.3 (Comprehensive SR), C.17; PS3.16 TID 5200 and TID 1500.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from copy import deepcopy
from importlib.metadata import version
from io import BytesIO
from pathlib import Path
from typing import Any

from tableside.model import Image, Reading
from tableside.report.codes import private_scheme
from tableside.report.content import Links
from tableside.report.study_json import study_json
from tableside.report.subject import patient_attributes
from tableside.report.trees import tree
from tableside.report.uids import derived_uid

KEPT_FROM_ARCHIVE = (
    "AccessionNumber",
    "IssuerOfPatientID",
    "PatientID",
    "PatientName",
    "ReferringPhysicianName",
    "StudyDate",
    "StudyDescription",
    "StudyID",
    "StudyTime",
)
EMPTY = dict.fromkeys(
    ("AccessionNumber", "ReferringPhysicianName", "StudyDate", "StudyID", "StudyTime"), ""
)


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
    root = tree(reading, template, version("tableside"))
    header = _header(reading, linked, evidence)
    report = _document(header, root, linked, derived_uid(template, study_json(reading)))
    _fix_dates(report, reading, header)
    written = BytesIO()
    report.save_as(written, enforce_file_format=True)
    return written.getvalue()


def _header(reading: Reading, linked: Mapping[str, Image], evidence: Mapping[str, Path]) -> Any:
    """Return patient and study attributes, as a dataset that the library copies from.

    What names the patient and the study is taken from the archive's own files, so that the
    report lands beside the images; what describes the animal is taken from the reading, where
    the worksheet has already won.
    """
    from pydicom import Dataset  # noqa: PLC0415

    header = Dataset()
    header.SpecificCharacterSet = "ISO_IR 192"
    first = next(iter(linked.values()), None)
    identity = first.identity if first else None
    header.StudyInstanceUID = identity.study if identity else _study_uid(reading)
    fields = {**EMPTY, **_study_day(reading), **patient_attributes(reading.exam.patient)}
    given = evidence.get(first.file) if first else None
    if given is not None:
        fields |= _from_archive(given)
    for name, value in fields.items():
        setattr(header, name, value)
    return header


def _study_uid(reading: Reading) -> str:
    study = reading.exam.study
    day = study.visit.date.isoformat() if study.visit.date else ""
    return derived_uid("study", study.patient.id or "", study.patient.name or "", day)


def _study_day(reading: Reading) -> dict[str, str]:
    moment = _moment(reading)
    return {"StudyDate": moment.strftime("%Y%m%d") if moment else ""}


def _from_archive(path: Path) -> dict[str, Any]:
    """Return what names patient and study in the archive; an unreadable file gives nothing."""
    from pydicom import dcmread  # noqa: PLC0415

    try:
        header = dcmread(path, stop_before_pixels=True, specific_tags=list(KEPT_FROM_ARCHIVE))
        return {name: header[name].value for name in KEPT_FROM_ARCHIVE if header.get(name)}
    except Exception:  # a hostile header may raise anything; the report does without it
        return {}


def _document(header: Any, root: Any, linked: Mapping[str, Image], uid: str) -> Any:
    from highdicom.sr import ComprehensiveSR  # noqa: PLC0415

    instances = [
        header_of for image in linked.values() if (header_of := _instance(image, header))
    ]
    number = version("tableside")
    # The library copies patient and study from the first instance, which need not be an image.
    report = ComprehensiveSR(
        evidence=instances or [_instance(None, header)],
        content=root,
        series_instance_uid=derived_uid("series", uid),
        series_number=9000,
        sop_instance_uid=uid,
        instance_number=1,
        manufacturer="tableside",
        manufacturer_model_name="tableside",
        software_versions=number,
        device_serial_number=number,
        series_description="tableside: measurements",
        record_evidence=True,
    )
    _own_evidence_only(
        report, {image.identity.sop_instance for image in linked.values() if image.identity}
    )
    report.SpecificCharacterSet = "ISO_IR 192"
    report.CodingSchemeIdentificationSequence = [*_coding_scheme()]
    return report


def _instance(image: Image | None, header: Any) -> Any:
    """Return the header as if it were the file of an image."""
    instance = deepcopy(header)
    identity = image.identity if image else None
    instance.StudyInstanceUID = identity.study if identity else header.StudyInstanceUID
    instance.SeriesInstanceUID = identity.series if identity else derived_uid("none")
    instance.SOPInstanceUID = identity.sop_instance if identity else derived_uid("none", "none")
    instance.SOPClassUID = identity.sop_class if identity else "1.2.840.10008.5.1.4.1.1.6.1"
    return instance


def _own_evidence_only(report: Any, known: set[str]) -> None:
    """Take out the stand-in that a study without any DICOM image needs."""
    if not known and "CurrentRequestedProcedureEvidenceSequence" in report:
        del report.CurrentRequestedProcedureEvidenceSequence


def _coding_scheme() -> list[Any]:
    from pydicom import Dataset  # noqa: PLC0415

    scheme = private_scheme()
    item = Dataset()
    item.CodingSchemeDesignator = scheme["designator"]
    item.CodingSchemeName = scheme["name"]
    item.CodingSchemeResponsibleOrganization = scheme["organization"]
    return [item]


def _moment(reading: Reading) -> dt.datetime | None:
    """Return when the study was made: the last image, or the day of the visit."""
    times = [image.acquired for image in reading.exam.study.images if image.acquired]
    if times:
        return max(times)
    day = reading.exam.visit.date
    return dt.datetime.combine(day, dt.time()) if day else None


def _fix_dates(report: Any, reading: Reading, header: Any) -> None:
    """Replace the library's clock by the time of the study."""
    moment = _moment(reading) or dt.datetime(1900, 1, 1)
    report.ContentDate = moment.strftime("%Y%m%d")
    report.ContentTime = moment.strftime("%H%M%S")
    for name in ("InstanceCreationDate", "InstanceCreationTime", "SeriesDate", "SeriesTime"):
        report.pop(name, None)
    for equipment in report.get("ContributingEquipmentSequence", ()):
        equipment.pop("ContributionDateTime", None)
    if "StudyTime" not in header:
        report.StudyTime = ""
