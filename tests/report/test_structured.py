"""The structured report, read back by highdicom, DCMTK and dicom3tools."""

import shutil
import subprocess
import sys
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import highdicom as hd
import pytest
from pydicom import Dataset, dcmread
from pydicom.dataset import FileMetaDataset
from pydicom.uid import ExplicitVRLittleEndian

from tableside.errors import InputError
from tableside.model import Reading
from tableside.report.structured import structured_report

from .tid5200 import faults

DCIODVFY = Path(sys.executable).parent / "dciodvfy"
TEMPLATES = ("5200", "1500")


def written(reading: Reading, template: str = "5200", **evidence: Path) -> Dataset:
    return dcmread(BytesIO(structured_report(reading, evidence, template=template)))


def items(node: Dataset, kind: str) -> list[Dataset]:
    found = []
    for child in node.get("ContentSequence", ()):
        found += [child] if child.ValueType == kind else []
        found += items(child, kind)
    return found


def meaning(item: Dataset) -> str:
    return str(item.ConceptNameCodeSequence[0].CodeMeaning)


def named(report: Dataset, kind: str, name: str) -> list[Dataset]:
    return [item for item in items(report, kind) if meaning(item) == name]


def value(item: Dataset) -> float:
    return float(item.MeasuredValueSequence[0].NumericValue)


def validate(path: Path) -> list[str]:
    """Return the errors that dciodvfy (dicom3tools) finds."""
    done = subprocess.run(
        [DCIODVFY, "-new", path], capture_output=True, text=True, timeout=60, check=False
    )
    assert "ComprehensiveSR" in done.stdout + done.stderr
    return [
        line for line in (done.stdout + done.stderr).splitlines() if line.startswith("Error")
    ]


@pytest.fixture(params=TEMPLATES)
def template(request: pytest.FixtureRequest) -> str:
    return str(request.param)


class TestOthersReadIt:
    @pytest.mark.skipif(not DCIODVFY.exists(), reason="needs dciodvfy: uv sync installs it")
    def test_dciodvfy_finds_no_error(
        self, reading: Reading, template: str, tmp_path: Path
    ) -> None:
        path = tmp_path / "report.dcm"
        path.write_bytes(structured_report(reading, {}, template=template))
        assert validate(path) == []

    @pytest.mark.skipif(not DCIODVFY.exists(), reason="needs dciodvfy: uv sync installs it")
    def test_dciodvfy_finds_no_error_in_an_empty_study(
        self, empty_reading: Reading, template: str, tmp_path: Path
    ) -> None:
        path = tmp_path / "report.dcm"
        path.write_bytes(structured_report(empty_reading, {}, template=template))
        assert validate(path) == []

    @pytest.mark.skipif(
        shutil.which("dsrdump") is None, reason="needs dsrdump: apt-get install dcmtk"
    )
    def test_dcmtk_reads_it(self, reading: Reading, template: str, tmp_path: Path) -> None:
        path = tmp_path / "report.dcm"
        path.write_bytes(structured_report(reading, {}, template=template))
        done = subprocess.run(
            ["dsrdump", "+Pl", path], capture_output=True, text=True, timeout=60, check=False
        )
        problems = [line for line in done.stderr.splitlines() if line.startswith("E:")]
        assert done.returncode == 0 and problems == []
        assert 'Left Ventricle Internal End Diastolic Dimension")="4.62" (cm' in done.stdout
        assert "Canis lupus familiaris" in done.stdout

    def test_highdicom_reads_it(self, reading: Reading, template: str, tmp_path: Path) -> None:
        path = tmp_path / "report.dcm"
        path.write_bytes(structured_report(reading, {}, template=template))
        report = hd.sr.srread(path)
        assert isinstance(report, hd.sr.ComprehensiveSR)
        assert len(report.get_evidence()) == 4

    def test_highdicom_finds_the_measurement_groups(
        self, reading: Reading, tmp_path: Path
    ) -> None:
        path = tmp_path / "report.dcm"
        path.write_bytes(structured_report(reading, {}, template="1500"))
        groups = hd.sr.srread(path).content.get_image_measurement_groups()
        assert len(groups) == len(reading.exam.measurements) + len(reading.exam.indices)
        first = groups[0].get_measurements()[-1]
        assert first.value == pytest.approx(reading.exam.measurements[0].value, rel=1e-5)
        assert first.unit.value == "cm"


class TestTemplate:
    def test_rows_are_those_of_tid_5200(self, reading: Reading) -> None:
        assert faults(written(reading)) == []

    def test_an_empty_study_keeps_the_rows_of_tid_5200(self, empty_reading: Reading) -> None:
        assert faults(written(empty_reading)) == []

    def test_the_checker_sees_a_section_without_its_site(self, reading: Reading) -> None:
        report = written(reading)
        section = next(item for item in report.ContentSequence if meaning(item) == "Findings")
        del section.ContentSequence[0]
        assert faults(report)

    def test_an_unknown_template_is_refused(self, reading: Reading) -> None:
        with pytest.raises(InputError, match="5200, 1500"):
            structured_report(reading, {}, template="5300")


class TestNumbers:
    def test_beats_stand_before_their_mean(self, reading: Reading) -> None:
        name = "Left Ventricle Internal End Diastolic Dimension"
        found = named(written(reading), "NUM", name)
        assert [value(item) for item in found[:3]] == [4.62, 4.55, 4.58]  # the late beat is out
        mean = found[3]
        assert value(mean) == pytest.approx(13.75 / 3, abs=1e-5)
        status = named(mean, "CODE", "Selection Status")[0]
        # PS3.16 CID 224
        assert status.ConceptCodeSequence[0].CodeValue == "121412"

    def test_uncertainty_and_range_go_along(self, reading: Reading) -> None:
        mean = named(
            written(reading), "NUM", "Left Ventricle Internal End Diastolic Dimension"
        )[3]
        sd = reading.exam.measurements[1].sd
        upper = named(mean, "NUM", "+, range of upper measurement uncertainty")[0]
        assert value(upper) == pytest.approx(1.6449 * sd, rel=1e-4)  # normal distribution, 90 %
        assert value(named(mean, "NUM", "Normal Range Upper Limit")[0]) == 4.33
        assert value(named(mean, "NUM", "Z-Score of measurement")[0]) == 2.3

    def test_velocities_are_sent_in_cm_s(self, reading: Reading) -> None:
        jets = named(written(reading), "NUM", "Peak Blood Velocity")
        assert [value(item) for item in jets] == [390.0, 320.0]
        unit = jets[0].MeasuredValueSequence[0].MeasurementUnitsCodeSequence[0]
        assert (unit.CodeValue, unit.CodingSchemeDesignator) == ("cm/s", "UCUM")

    def test_a_lower_bound_and_a_doubt_are_said(self, reading: Reading) -> None:
        jet = named(written(reading), "NUM", "Peak Blood Velocity")[0]
        said = [item.TextValue for item in named(jet, "TEXT", "Comment")]
        assert any("lower bound" in text for text in said)
        assert any(text.startswith("Doubtful") for text in said)

    def test_own_codes_are_declared(self, reading: Reading) -> None:
        report = written(reading)
        used = {
            item.ConceptNameCodeSequence[0].CodingSchemeDesignator
            for item in items(report, "NUM")
        }
        declared = {
            item.CodingSchemeDesignator for item in report.CodingSchemeIdentificationSequence
        }
        assert "99TABLESIDE" in used and "99TABLESIDE" in declared


class TestLinks:
    def test_points_are_half_a_pixel_further(self, reading: Reading) -> None:
        """PS3.3 C.18.6.1: the top left corner of the first pixel is 0, 0."""
        beat = named(
            written(reading), "NUM", "Left Ventricle Internal End Diastolic Dimension"
        )[0]
        line = items(beat, "SCOORD")[0]
        x0, y0, x1, y1 = line.GraphicData
        assert (x0, y0, x1) == (130.5, 200.5, 130.5)
        assert y1 == pytest.approx(200.5 + 4.62 / 0.02)
        assert line.GraphicType == "POLYLINE"

    def test_one_point_is_a_point(self, reading: Reading) -> None:
        jet = named(written(reading), "NUM", "Peak Blood Velocity")[0]
        assert items(jet, "SCOORD")[0].GraphicType == "POINT"

    def test_frames_count_from_one_and_only_in_a_cine(self, reading: Reading) -> None:
        report = written(reading)
        root = named(report, "NUM", "Aortic Root Diameter")[0]
        reference = items(root, "IMAGE")[0].ReferencedSOPSequence[0]
        assert reference.ReferencedFrameNumber == 2  # frame 1 of ours, which count from 0
        wall = named(report, "NUM", "Interventricular Septum Diastolic Thickness")[0]
        assert "ReferencedFrameNumber" not in items(wall, "IMAGE")[0].ReferencedSOPSequence[0]

    def test_points_outside_the_image_are_not_written(self, reading: Reading, changed) -> None:
        jet = reading.exam.measurements[6]
        beat = replace(jet.beats[0], points=((9999.0, 10.0),))
        report = written(changed(exam={"measurements": (replace(jet, beats=(beat,)),)}))
        assert items(report, "SCOORD") == []
        assert len(items(report, "IMAGE")) == 2  # the image library and the number

    @pytest.mark.parametrize(
        "uid", ["../../x", "", "1.2.3.", "1..2", "1.02", "1.2." + "3" * 70]
    )
    def test_a_hostile_uid_leaves_its_image_unlinked(
        self, reading: Reading, changed, uid: str
    ) -> None:
        """PS3.5 section 9.1: digits and dots, no leading zero, at most 64 characters."""
        first, *others = reading.exam.study.images
        broken = replace(first, identity=replace(first.identity, sop_instance=uid))
        report = written(changed(study={"images": (broken, *others)}))
        assert first.identity.sop_instance not in str(report)
        evidence = report.CurrentRequestedProcedureEvidenceSequence[0]
        linked = [
            item.ReferencedSOPInstanceUID
            for series in evidence.ReferencedSeriesSequence
            for item in series.ReferencedSOPSequence
        ]
        assert len(linked) == 3

    def test_a_study_of_stills_has_numbers_without_links(
        self, reading: Reading, changed
    ) -> None:
        stills = tuple(replace(image, identity=None) for image in reading.exam.study.images)
        report = written(changed(study={"images": stills}))
        assert items(report, "IMAGE") == [] and items(report, "SCOORD") == []
        assert "CurrentRequestedProcedureEvidenceSequence" not in report
        assert len(items(report, "NUM")) > 10

    def test_evidence_of_another_study_is_kept_apart(self, reading: Reading, changed) -> None:
        """PS3.3 C.17.2: other studies belong to Pertinent Other Evidence."""
        *images, last = reading.exam.study.images
        moved = replace(last, identity=replace(last.identity, study="1.2.3.4"))
        report = written(changed(study={"images": (*images, moved)}))
        assert [i.StudyInstanceUID for i in report.PertinentOtherEvidenceSequence] == [
            "1.2.3.4"
        ]


class TestHeader:
    def test_it_is_filed_beside_the_images(self, reading: Reading, tmp_path: Path) -> None:
        path = tmp_path / "I0003.dcm"
        image = Dataset()
        image.file_meta = FileMetaDataset()
        image.file_meta.TransferSyntaxUID = ExplicitVRLittleEndian
        image.SOPClassUID, image.SOPInstanceUID = "1.2.840.10008.5.1.4.1.1.6.1", "1.2.3"
        image.PatientID, image.AccessionNumber, image.StudyID = "ARCHIVE-7", "A-12", "9"
        image.SpecificCharacterSet = "ISO_IR 100"
        image.PatientName = "Älder^Bramble the Second"
        image.save_as(path, enforce_file_format=True)
        report = written(reading, **{"I0003.dcm": path})
        assert (report.PatientID, report.AccessionNumber) == ("ARCHIVE-7", "A-12")
        assert str(report.PatientName) == "Älder^Bramble the Second"
        assert report.StudyInstanceUID == reading.exam.study.images[0].identity.study

    def test_a_file_that_cannot_be_read_is_no_obstacle(
        self, reading: Reading, tmp_path: Path
    ) -> None:
        path = tmp_path / "I0003.dcm"
        path.write_text("not DICOM")
        assert written(reading, **{"I0003.dcm": path}).PatientID == "K-0412"

    def test_the_animal_is_described(self, reading: Reading) -> None:
        """PS3.3 C.7.1.1 and C.7.2.2; codes of CID 7454 and CID 7480."""
        report = written(reading)
        assert report.PatientSpeciesCodeSequence[0].CodeValue == "448771007"
        assert report.PatientBreedCodeSequence[0].CodeValue == "132561000"
        assert (report.PatientSex, report.PatientSexNeutered) == ("F", "ALTERED")
        assert str(report.PatientName) == "Alder^Bramble"
        assert report.ResponsiblePersonRole == "OWNER"
        assert float(report.PatientWeight) == 18.4

    def test_nothing_claims_to_be_signed(self, reading: Reading) -> None:
        report = written(reading)
        assert report.VerificationFlag == "UNVERIFIED"
        assert (report.CompletionFlag, report.PreliminaryFlag) == ("PARTIAL", "PRELIMINARY")

    def test_names_cannot_break_out_of_their_field(self, changed, tmp_path: Path) -> None:
        hostile = {"name": "Re^x=\\\x00" + "a" * 300, "id": "7\\8\n" + "b" * 90, "owner": "O^P"}
        report = written(changed(patient=hostile))
        assert len(report.PatientID) <= 64 and "\\" not in report.PatientID
        assert str(report.PatientName).count("^") == 1
        assert str(report.ResponsiblePerson).rstrip("^") == "O P"

    def test_the_same_reading_gives_the_same_bytes(
        self, reading: Reading, template: str
    ) -> None:
        one = structured_report(reading, {}, template=template)
        assert one == structured_report(reading, {}, template=template)

    def test_another_reading_gives_another_uid(self, reading: Reading, changed) -> None:
        other = written(changed(notes=("another remark",)))
        assert other.SOPInstanceUID != written(reading).SOPInstanceUID
