"""The letter as others read it: pypdf for text and tags, pypdfium2 for pages."""

import time
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import pypdf
import pypdfium2
import pytest

from tableside.model import ProtocolItem, Reading, Rejected
from tableside.report.letter import letter

GOLDEN = Path(__file__).parents[1] / "golden"


def pages(pdf: bytes) -> list[str]:
    return [page.extract_text() for page in pypdf.PdfReader(BytesIO(pdf)).pages]


def text(pdf: bytes) -> str:
    """Return the words of a letter, one space between them."""
    return " ".join(" ".join(pages(pdf)).replace("\u200b", "").split())


def golden(pdf: bytes) -> str:
    """Return the lines of a letter without its list of sources, which is data of its own."""
    lines = [line.rstrip() for line in "\n".join(pages(pdf)).splitlines() if line.strip()]
    if "Sources" in lines:
        del lines[lines.index("Sources") : lines.index("Cautions")]
    return "\n".join(lines) + "\n"


class TestGolden:
    """Change a letter on purpose: delete the file under tests/golden and run the test twice."""

    @pytest.mark.parametrize("name", ["bramble", "nothing"])
    def test_the_words_are_those_kept(
        self, name: str, reading: Reading, empty_reading: Reading, pictures
    ) -> None:
        given = {"bramble": (reading, pictures), "nothing": (empty_reading, {})}[name]
        words = golden(letter(*given))
        kept = GOLDEN / f"letter-{name}.txt"
        if not kept.exists():
            kept.write_text(words, encoding="utf-8")
            pytest.fail(f"{kept.name} was missing and is now written; read it and run again")
        assert words == kept.read_text(encoding="utf-8")


class TestOrder:
    def test_the_conclusion_stands_on_the_first_page_before_all_else(
        self, reading: Reading, pictures
    ) -> None:
        first = pages(letter(reading, pictures))[0]
        order = ["Bramble", "Conclusion", "Stage B2", "What is doubtful", "Measurements"]
        places = [first.index(words) for words in order]
        assert places == sorted(places)

    def test_the_worst_doubt_stands_first(self, reading: Reading) -> None:
        said = text(letter(reading, {}))
        assert said.index("Ao: fails") < said.index("MR_Vmax: doubtful")

    def test_every_page_says_that_nobody_signed(self, reading: Reading, pictures) -> None:
        assert all("DRAFT, not signed" in page for page in pages(letter(reading, pictures)))


class TestWords:
    def test_probability_is_said_in_words_and_number(self, reading: Reading) -> None:
        said = text(letter(reading, {}))
        # IPCC guidance on uncertainties (2010), Table 1: 90 to 100 % is very likely
        assert "B2: very likely" in said and "B2 93 %" in said

    def test_a_finding_that_rests_on_a_doubt_says_so(self, reading: Reading) -> None:
        assert "rests on numbers that are doubtful today: Ao" in text(letter(reading, {}))

    def test_a_lower_bound_has_no_interval(self, reading: Reading) -> None:
        said = text(letter(reading, {}))
        assert "at least 3.90 m/s" in said and "3.90 ±" not in said

    def test_both_sources_are_shown_where_there_are_two(self, reading: Reading) -> None:
        said = text(letter(reading, {}))
        assert "1.27 to 1.85" in said and "up to 1.79" in said

    def test_citations_are_written_out(self, reading: Reading) -> None:
        said = text(letter(reading, {}))
        assert "Allometric scaling of M-mode cardiac measurements in normal adult dogs" in said

    def test_the_cautions_are_there(self, reading: Reading) -> None:
        said = text(letter(reading, {}))
        assert "supports a licensed veterinarian and does not replace one" in said
        assert "No treatment dose is ever shown" in said
        assert "2 of 3 views" in said

    def test_limits_from_memory_are_marked(self, reading: Reading, changed) -> None:
        first = reading.exam.measurements[0]
        unread = replace(first, references=(replace(first.references[0], read="memory"),))
        said = text(letter(changed(exam={"measurements": (unread,)}), {}))
        assert "0.66 to 1.17, z 0.3 †" in said


class TestFormat:
    """ISO 14289-1 (PDF/UA-1) and ISO 19005-2 (PDF/A-2a), as far as a reader can see."""

    def test_it_is_tagged_and_says_its_standards(self, reading: Reading, pictures) -> None:
        reader = pypdf.PdfReader(BytesIO(letter(reading, pictures)))
        root = reader.trailer["/Root"]
        assert root["/MarkInfo"]["/Marked"] and "/StructTreeRoot" in root
        assert root["/Lang"] == "en"
        metadata = root["/Metadata"].get_object().get_data().decode()
        assert "<pdfuaid:part>1" in metadata
        assert "<pdfaid:part>2" in metadata and "<pdfaid:conformance>A" in metadata

    def test_every_picture_has_words_for_those_who_cannot_see_it(
        self, reading: Reading, pictures
    ) -> None:
        reader = pypdf.PdfReader(BytesIO(letter(reading, pictures)))
        alternatives = [node["/Alt"] for node in tags(reader) if node.get("/S") == "/Figure"]
        assert len(alternatives) == 4
        assert any(
            "calipers for" in words and "traced edges" in words for words in alternatives
        )

    def test_the_table_has_header_cells(self, reading: Reading) -> None:
        reader = pypdf.PdfReader(BytesIO(letter(reading, {})))
        kinds = {node.get("/S") for node in tags(reader)}
        assert {"/Table", "/TH", "/TD", "/H1", "/H2"} <= kinds

    def test_only_the_shipped_typeface_is_used(self, reading: Reading, pictures) -> None:
        reader = pypdf.PdfReader(BytesIO(letter(reading, pictures)))
        fonts = {
            str(font["/BaseFont"])
            for page in reader.pages
            for font in page["/Resources"]["/Font"].values()
        }
        assert fonts and all("SourceSans3" in name for name in fonts)

    def test_the_pages_are_a4(self, reading: Reading) -> None:
        # ISO 216: 210 mm x 297 mm; a point is 1/72 inch
        width, height = pypdfium2.PdfDocument(letter(reading, {}))[0].get_size()
        assert width == pytest.approx(210 / 25.4 * 72, abs=0.5)
        assert height == pytest.approx(297 / 25.4 * 72, abs=0.5)

    def test_the_same_reading_gives_the_same_bytes(self, reading: Reading, pictures) -> None:
        assert letter(reading, pictures) == letter(reading, pictures)


class TestAwkwardStudies:
    def test_nothing_measured(self, empty_reading: Reading) -> None:
        said = text(letter(empty_reading, {}))
        assert "Nothing is concluded from these images." in said
        assert "No measurement could be made." in said
        assert "x.dcm: the file ends too early" in said

    def test_no_weight(self, changed) -> None:
        said = text(letter(changed(patient={"weight_kg": None}), {}))
        assert "weight not given" in said and "not indexed" in said

    @pytest.mark.parametrize(
        "name",
        [
            "#panic() $x$ *b* _i_ `c` <l> @r \\ // /*",
            '[#read("/etc/passwd")]',
            "\u72ac\u306e\u540d \U0001f415",
            "\u202egnp\u202c\x00\x07",
            "W" * 400,
            "a b " * 200,
            "= Heading\n\n+ item",
        ],
        ids=["markup", "call", "other script", "direction", "one long word", "long", "lines"],
    )
    def test_a_name_is_only_ever_a_name(self, changed, name: str) -> None:
        fields = {"name": name, "breed": name, "owner": name, "id": name}
        pdf = letter(changed(patient=fields), {})
        said = text(pdf)
        assert "Conclusion" in said and "root:" not in said
        words = pypdfium2.PdfDocument(pdf)[0].get_textpage()
        right = max(words.get_charbox(i)[2] for i in range(words.count_chars()))
        assert right < 595.3 - 40  # inside the right margin of 19 mm, points

    def test_markup_is_printed_as_it_is(self, changed) -> None:
        said = text(letter(changed(patient={"name": "#panic() *b* $x$"}), {}))
        assert "#panic() *b* $x$" in said

    def test_forty_rejected_files_take_few_lines(self, changed) -> None:
        many = tuple(
            Rejected(file=f"IM{n:04d}.dcm", reason="no ultrasound image inside")
            for n in range(40)
        )
        said = text(letter(changed(study={"rejected": many}), {}))
        assert "IM0007.dcm and 32 more: no ultrasound image inside" in said
        assert "IM0008.dcm" not in said

    def test_a_remark_on_many_images_is_made_once(self, reading: Reading, changed) -> None:
        files = [image.file for image in reading.exam.study.images]
        notes = tuple(f"{file}: no time scale" for file in files)
        assert f"{', '.join(files)}: no time scale" in text(letter(changed(notes=notes), {}))

    def test_views_are_listed_by_reason(self, changed) -> None:
        views = tuple(
            ProtocolItem(view=f"view {n}", state="missing", why="no image of it")
            for n in range(3)
        )
        said = text(letter(changed(protocol=views), {}))
        assert "3 missing, no image of it: view 0; view 1; view 2" in said

    def test_many_images_give_few_pictures(self, reading: Reading, changed, pictures) -> None:
        wall = reading.exam.measurements[1]
        files = [f"M{n:02d}.dcm" for n in range(30)]
        images = tuple(replace(reading.exam.study.images[0], file=file) for file in files)
        walls = tuple(
            replace(wall, beats=tuple(replace(beat, file=file) for beat in wall.beats))
            for file in files
        )
        frames = {(file, 0): pictures["I0003.dcm", 0] for file in files}
        pdf = letter(changed(study={"images": images}, exam={"measurements": walls}), frames)
        reader = pypdf.PdfReader(BytesIO(pdf))
        figures = [node for node in tags(reader) if node.get("/S") == "/Figure"]
        assert len(figures) == 6


def test_a_letter_with_pictures_takes_less_than_a_second(reading: Reading, pictures) -> None:
    took = []
    for _ in range(3):
        began = time.process_time()
        letter(reading, pictures)
        took.append(time.process_time() - began)
    assert min(took) < 1.0


def tags(reader: pypdf.PdfReader) -> list[pypdf.generic.DictionaryObject]:
    """Return every node of the structure tree."""
    found, waiting = [], [reader.trailer["/Root"]["/StructTreeRoot"]]
    while waiting:
        node = waiting.pop().get_object()
        if isinstance(node, pypdf.generic.ArrayObject):
            waiting.extend(node)
        elif isinstance(node, pypdf.generic.DictionaryObject):
            found.append(node)
            if "/K" in node:
                waiting.append(node["/K"])
    return found
