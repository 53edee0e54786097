"""What people do: every edit, undo, conflicts, crashes; and that a log replays to the same."""

import json
import time
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from tests.server.conftest import DeskClient, open_desk, wait_until_read

from tableside import reading
from tableside.corrections import run
from tableside.model import VIEWS
from tableside.server import looks
from tableside.server.document import reading_json
from tableside.server.live_study import LiveStudy
from tableside.server.shapes.edits import Changes, Previewed
from tableside.store.originals import StudyStore

LVIDD = "LVIDd/automatic/leading edge"
CM_PER_ROW_DIGITS = 1e-3


def lower(beat: dict[str, Any], rows: float) -> dict[str, Any]:
    """Return the payload that moves the second point of a beat down by some rows."""
    x, y = beat["points"][1]
    return {"beat": beat["id"], "point": 1, "to": [x, y + rows]}


def test_a_moved_edge_changes_number_index_and_check(desk: DeskClient) -> None:
    before, ratio = desk.number(LVIDD), desk.index("LVIDDN")["value"]
    beat = before["beats"][0]
    cm_per_row = desk.get()["reading"]["images"][2]["regions"][1]["cm_per_row"]
    told = desk.edit("move", **lower(beat, 10))
    Changes.model_validate(told)
    after = desk.number(LVIDD)
    # an M-mode counts rows alone: ten rows in one beat of n (DICOM PS3.3 C.8.5.5)
    assert after["beats"][0]["value"] == pytest.approx(
        beat["value"] + 10 * cm_per_row, abs=1e-3
    )
    mean = before["value"] + 10 * cm_per_row / len(before["beats"])
    assert after["value"] == pytest.approx(mean, abs=1e-3)
    assert desk.index("LVIDDN")["value"] == pytest.approx(
        ratio * after["value"] / before["value"], rel=1e-4
    )
    assert after["beats"][0]["by_hand"] and not after["beats"][1]["by_hand"]
    assert "LVIDDN" in [one["name"] for one in told["changed"]["indices"]]
    assert told["changed"]["checks"]


def test_only_what_a_beat_touches_is_told(desk: DeskClient) -> None:
    told = desk.edit("move", **lower(desk.number(LVIDD)["beats"][0], 3))
    assert [one["id"] for one in told["changed"]["measurements"]] == [LVIDD]


def test_a_preview_says_the_same_and_keeps_nothing(desk: DeskClient) -> None:
    payload = lower(desk.number(LVIDD)["beats"][0], 10)
    shown = desk.preview("move", **payload)
    Previewed.model_validate(shown)
    assert desk.get()["version"] == 0
    kept = desk.edit("move", **payload)
    for name in ("measurements", "indices"):
        assert shown["changed"][name] == kept["changed"][name], name
    # what the model of the whole examination says is concluded only when an edit is kept
    assert {one["id"] for one in shown["changed"]["checks"]} <= {
        one["id"] for one in desk.get()["reading"]["checks"]
    }


def test_dragging_answers_within_the_time_of_a_hand(desk: DeskClient) -> None:
    """Under 50 ms to the eye is the wish; the best of ten stands for a machine at rest."""
    beat = desk.number(LVIDD)["beats"][0]
    took = []
    for rows in range(10):
        start = time.perf_counter()
        desk.preview("move", **lower(beat, rows + 1))
        took.append(time.perf_counter() - start)
    assert min(took) < 0.05


def test_what_was_concluded_before_is_not_concluded_again(
    desk: DeskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    beat = desk.number(LVIDD)["beats"][0]
    before = desk.get()["reading"]
    desk.edit("move", **lower(beat, 10))

    def never(*_: object) -> None:
        raise AssertionError("the same numbers were judged twice")

    monkeypatch.setattr(run, "judge", never)
    desk.edit("undo")
    assert desk.get()["reading"] == before
    desk.edit("decide", measurement=LVIDD, state="accepted")


def test_a_beat_is_left_out_and_taken_back(desk: DeskClient) -> None:
    before = desk.number(LVIDD)
    beat = before["beats"][2]
    desk.edit("beat", beat=beat["id"], used=False)
    without = desk.number(LVIDD)
    rest = [one["value"] for one in before["beats"] if one["id"] != beat["id"]]
    assert without["value"] == pytest.approx(sum(rest) / len(rest), abs=1e-4)
    assert without["beats"][2]["reason"] == "left out by hand"
    desk.edit("beat", beat=beat["id"], used=True)
    assert desk.number(LVIDD)["value"] == before["value"]


def test_the_last_beat_is_not_left_out(desk: DeskClient) -> None:
    beats = desk.number(LVIDD)["beats"]
    for beat in beats[:-1]:
        desk.edit("beat", beat=beat["id"], used=False)
    answer = desk.try_edit("beat", beat=beats[-1]["id"], used=False)
    assert answer.status_code == 422
    assert "no beat can be used" in answer.json()["detail"]
    assert desk.get()["version"] == len(beats) - 1


def test_a_caliper_is_measured_moved_and_removed(desk: DeskClient) -> None:
    cm = desk.get()["reading"]["images"][1]["regions"][0]["cm_per_row"]
    points = [[320.0, 160.0], [320.0, 320.0]]
    desk.edit("caliper", image=1, quantity="LVIDd", frame=0, points=points)
    drawn = desk.number("LVIDd/caliper")
    assert drawn["value"] == pytest.approx(160 * cm, abs=1e-3)
    assert drawn["decision"]["state"] == "by hand"
    beat = drawn["beats"][0]
    desk.edit("move", beat=beat["id"], point=0, to=[320.0, 150.0])
    assert desk.number("LVIDd/caliper")["value"] == pytest.approx(170 * cm, abs=1e-3)
    desk.edit("remove", beat=beat["id"])
    assert desk.number("LVIDd/caliper") is None
    assert desk.number(LVIDD) is not None


def test_what_a_worksheet_drew_can_be_moved_too(desk: DeskClient) -> None:
    before = desk.number("LA/caliper")
    beat = before["beats"][0]
    x, y = beat["points"][1]
    desk.edit("move", beat=beat["id"], point=1, to=[x, y + 5])
    assert desk.number("LA/caliper")["value"] != before["value"]
    desk.edit("undo")
    assert desk.number("LA/caliper") == before


def test_an_integral_is_moved_by_its_envelope(desk: DeskClient) -> None:
    before = desk.number("AV_VTI/automatic")
    beat = before["beats"][0]
    assert len(beat["points"]) > 10
    middle = len(beat["points"]) // 2
    x, y = beat["points"][middle]
    desk.edit("move", beat=beat["id"], point=middle, to=[x, y])
    after = desk.number("AV_VTI/automatic")["beats"][0]
    # unmoved in fact: the rule for a hand's trace agrees with the automatic integral
    assert after["value"] == pytest.approx(beat["value"], rel=0.03)


def test_a_label_decides_what_is_measured(desk: DeskClient) -> None:
    before = desk.number(LVIDD)["value"]
    desk.edit("label", image=2, mmode="mitral valve")
    assert desk.number(LVIDD) is None
    desk.edit("label", image=2, mmode="left ventricle")
    assert desk.number(LVIDD)["value"] == before


def test_an_image_without_a_label_is_offered_likely_ones(desk: DeskClient) -> None:
    desk.edit("label", image=2, mmode=None)
    desk.edit("label", image=0, view=None)
    offered = {one["n"]: one for one in desk.get()["suggestions"]}
    assert offered[2]["labels"][0] == "left ventricle"  # what the demo's tracing crosses
    assert sum(offered[2]["probabilities"]) <= 1.0001
    assert offered[2]["evidence"]
    assert offered[0]["kind"] == "view"
    assert set(offered[0]["labels"]) <= set(VIEWS)


def test_a_picture_gets_its_scale_by_hand(desk: DeskClient) -> None:
    ruler = desk.http.post(f"/api/studies/{desk.study}/ruler", json={"image": 1}).json()
    down = next(one for one in ruler["rulers"] if one["way"] == "down")
    cm = desk.get()["reading"]["images"][1]["regions"][0]["cm_per_row"]
    assert down["spacing_px"] * cm == pytest.approx(1.0, rel=0.01)  # drawn 1 cm apart
    desk.edit("scale", image=1, scale={"rows_per_cm": down["spacing_px"] * 2})
    region = desk.get()["reading"]["images"][1]["regions"][0]
    assert (region["source"], region["kind"]) == ("worksheet", "2-d")
    assert region["cm_per_row"] == pytest.approx(cm / 2, rel=0.01)
    desk.edit("scale", image=1, scale=None)
    assert desk.get()["reading"]["images"][1]["regions"][0]["cm_per_row"] == cm


def test_facts_of_the_visit_are_noted(desk: DeskClient) -> None:
    before = desk.index("LVIDDN")["value"]
    desk.edit("visit", weight_kg=19.2, signs=["cough", "fainting"], birth_date=None)
    reading = desk.get()["reading"]
    assert reading["visit"]["signs"] == ["cough", "fainting"]
    assert "birth_date" not in reading["patient"]
    # LVIDDN = LVIDd / kg^0.294 (Cornell 2004): twice the weight
    assert desk.index("LVIDDN")["value"] == pytest.approx(before / 2**0.294, rel=1e-4)


def test_a_refused_number_takes_no_part(desk: DeskClient) -> None:
    desk.edit("decide", measurement=LVIDD, state="refused")
    state = desk.get()
    assert LVIDD not in [one["id"] for one in state["reading"]["measurements"]]
    assert desk.index("LVIDDN") is None
    assert [one["id"] for one in state["refused"]] == [LVIDD]
    desk.edit("decide", measurement=LVIDD, state="open")
    assert desk.index("LVIDDN") is not None


def test_an_acceptance_holds_for_the_value_that_was_accepted(desk: DeskClient) -> None:
    number = desk.number(LVIDD)
    assert number["decision"] == {"state": "open"}
    desk.edit("decide", measurement=LVIDD, state="accepted", value=number["value"])
    assert desk.number(LVIDD)["decision"]["state"] == "accepted"
    desk.edit("move", **lower(number["beats"][0], 5))
    assert desk.number(LVIDD)["decision"]["state"] == "changed"


def test_nothing_is_accepted_that_nobody_saw(desk: DeskClient) -> None:
    answer = desk.try_edit("decide", measurement=LVIDD, state="accepted", value=1.23)
    assert answer.status_code == 409
    assert "now, not 1.23" in answer.json()["detail"]


def test_what_is_unremarkable_is_accepted_in_one_go(desk: DeskClient) -> None:
    desk.edit("accept_unremarkable")
    for one in desk.get()["reading"]["measurements"]:
        if one["method"] == "automatic":
            is_plain = not one["remarkable"]
            assert (one["decision"]["state"] == "accepted") == is_plain, one["id"]
    assert desk.number("MR_Vmax/automatic")["remarkable"]  # the demo's misaligned jet
    assert desk.try_edit("accept_unremarkable").status_code == 422


def test_a_line_over_a_cine_is_measured_and_agrees_with_the_phantom(desk: DeskClient) -> None:
    desk.edit("line", image=1, line=[[320, 45], [320, 425]])
    found = desk.number("LVIDd/automatic/m-mode from a cine/leading edge")
    truth_cm = 1.88 * 9.6**0.294  # what the demo's heart is made of: LVIDDN and weight
    # its outlines are drawn uneven with a standard deviation of 0.06 cm at each wall
    assert found["value"] == pytest.approx(truth_cm, abs=2 * (0.06 * 2**0.5 + found["sd"]))


def test_undo_and_redo_survive_a_restart(desk: DeskClient) -> None:
    before = desk.number(LVIDD)
    desk.edit("move", **lower(before["beats"][0], 10))
    moved = desk.number(LVIDD)
    for http in open_desk(desk.data):
        wait_until_read(http, desk.study)
        again = DeskClient(http, desk.study, desk.data)
        assert again.number(LVIDD) == moved
        again.edit("undo")
        assert again.number(LVIDD)["value"] == before["value"]
    for http in open_desk(desk.data):
        wait_until_read(http, desk.study)
        again = DeskClient(http, desk.study, desk.data)
        assert again.number(LVIDD)["value"] == before["value"]
        again.edit("redo")
        assert again.number(LVIDD) == moved


def test_undo_goes_back_step_by_step_and_work_ends_redo(desk: DeskClient) -> None:
    for grade in (1, 2, 3):
        desk.edit("visit", murmur_grade=grade)

    def grade_now() -> int:
        return int(desk.get()["reading"]["visit"]["murmur_grade"])

    desk.edit("undo")
    assert grade_now() == 2
    desk.edit("undo")
    assert grade_now() == 1
    desk.edit("redo")
    assert grade_now() == 2
    desk.edit("visit", murmur_grade=5)
    assert desk.try_edit("redo").status_code == 422
    desk.edit("undo")
    assert grade_now() == 2
    assert desk.try_edit("undo", version=1).status_code == 200  # by its version
    assert grade_now() == 2


def test_undo_never_takes_back_what_another_person_did(desk: DeskClient) -> None:
    desk.edit("visit", who="anna", murmur_grade=1)
    desk.edit("visit", who="ben", sedation="none")
    desk.edit("undo", who="anna")
    assert desk.get()["reading"]["visit"]["murmur_grade"] == 4
    assert desk.try_edit("undo", who="anna").status_code == 422


def test_two_people_in_conflict_are_told(desk: DeskClient) -> None:
    beat = desk.number(LVIDD)["beats"][0]
    desk.edit("move", base=0, who="anna", **lower(beat, 5))
    answer = desk.try_edit("move", base=0, who="ben", **lower(beat, -5))
    assert answer.status_code == 409
    problem = answer.json()
    assert [one["who"] for one in problem["newer"]] == ["anna"]
    assert problem["version"] == 1
    assert desk.get()["version"] == 1
    assert desk.try_edit("move", base=1, who="ben", **lower(beat, -5)).status_code == 200


def test_edits_of_different_things_merge_with_a_notice(desk: DeskClient) -> None:
    beats = desk.number(LVIDD)["beats"]
    desk.edit("move", base=0, who="anna", **lower(beats[0], 5))
    told = desk.edit("visit", base=0, who="ben", murmur_grade=2)
    assert (told["version"], told["merged"]) == (2, [1])
    assert [one["version"] for one in told["edits"]] == [1, 2]
    assert LVIDD in [one["id"] for one in told["changed"]["measurements"]]


def test_nobody_accepts_a_number_that_moved_under_them(desk: DeskClient) -> None:
    beat = desk.number(LVIDD)["beats"][0]
    desk.edit("move", base=0, who="anna", **lower(beat, 5))
    answer = desk.try_edit("decide", base=0, who="ben", measurement=LVIDD, state="accepted")
    assert answer.status_code == 409


def test_an_edit_of_an_image_that_was_relabelled_is_a_conflict(desk: DeskClient) -> None:
    beat = desk.number(LVIDD)["beats"][0]
    desk.edit("scale", base=0, who="anna", image=2, scale=None)
    assert desk.try_edit("move", base=0, who="ben", **lower(beat, 5)).status_code == 409


def test_ones_own_quick_edits_never_clash(desk: DeskClient) -> None:
    beat = desk.number(LVIDD)["beats"][0]
    for rows in (1, 2, 3):
        assert desk.try_edit("move", base=0, **lower(beat, rows)).status_code == 200


def test_an_edit_whose_beat_is_gone_is_said_and_comes_back(desk: DeskClient) -> None:
    desk.edit("move", **lower(desk.number(LVIDD)["beats"][0], 10))
    moved = desk.number(LVIDD)["value"]
    desk.edit("label", image=2, mmode="mitral valve")
    note = desk.get()["edits"][0]["note"]
    assert note == "the beat that it changes is not measured any more"
    desk.edit("undo")
    assert desk.number(LVIDD)["value"] == moved


@pytest.mark.parametrize(
    ("kind", "payload"),
    [
        ("move", {"beat": "x@y#0", "point": 0, "to": [1, 1]}),
        ("move", {"beat": "x", "point": 0, "to": [1, 1]}),
        ("move", {"beat": LVIDD + "@I0003.dcm#0", "point": 9, "to": [1, 1]}),
        ("move", {"beat": LVIDD + "@I0003.dcm#0", "point": 0, "to": [5, 5]}),
        ("move", {"beat": LVIDD + "@I0003.dcm#0", "point": 0}),
        ("beat", {"beat": LVIDD + "@I0003.dcm#99", "used": False}),
        ("caliper", {"image": 1, "quantity": "LVIDd", "points": [[0, 0], [5, 5]]}),
        ("caliper", {"image": 1, "quantity": "LVIDd", "points": [[320, 160]]}),
        ("caliper", {"image": 99, "quantity": "LVIDd", "points": [[1, 1], [5, 5]]}),
        ("caliper", {"image": 1, "quantity": "wings", "points": [[1, 1], [5, 5]]}),
        (
            "caliper",
            {"image": 1, "quantity": "LVIDd", "frame": 20, "points": [[320, 160], [320, 300]]},
        ),
        ("label", {"image": 2, "mmode": "spleen"}),
        ("label", {"image": 2}),
        ("scale", {"image": 1, "scale": {"rows_per_cm": 0}}),
        ("scale", {"image": 1, "scale": {"rows_per_m_s": 30}}),
        ("scale", {"image": 1, "scale": {"rows_per_cm": 40, "box": [0, 0, 9999, 9999]}}),
        ("visit", {"weight_kg": 900}),
        ("visit", {}),
        ("decide", {"measurement": "wings", "state": "accepted"}),
        ("remove", {"beat": LVIDD + "@I0003.dcm#0"}),
        ("line", {"image": 2, "line": [[100, 300], [100, 500]]}),
        ("line", {"image": 1, "line": [[1, 1], [1, 1]]}),
        ("undo", {}),
        ("undo", {"version": 3}),
        ("redo", {}),
        ("dance", {}),
    ],
)
def test_what_cannot_be_done_is_refused_with_a_sentence_and_not_kept(
    desk: DeskClient, kind: str, payload: dict[str, Any]
) -> None:
    answer = desk.try_edit(kind, 0, **payload)
    assert answer.status_code in (404, 422)
    assert len(answer.json()["detail"]) > 10
    assert desk.get()["version"] == 0
    assert not (desk.data / "studies" / desk.study / "edits.jsonl").exists()


def do_everything(desk: DeskClient) -> None:
    beats = desk.number(LVIDD)["beats"]
    desk.edit("move", **lower(beats[0], 7))
    desk.edit("beat", beat=beats[1]["id"], used=False)
    desk.edit("caliper", image=1, quantity="LVIDd", frame=0, points=[[320, 160], [320, 320]])
    desk.edit("line", image=1, line=[[320, 45], [320, 425]])
    desk.edit("label", image=3, view="right parasternal short axis, chordae")
    desk.edit("visit", weight_kg=10.1, murmur_grade=None)
    desk.edit("accept_unremarkable")
    desk.edit("decide", measurement="MR_Vmax/automatic", state="refused")
    desk.edit("undo", version=2)
    desk.edit("redo")
    desk.edit("scale", image=1, scale={"rows_per_cm": 45.5})


def test_the_log_replays_to_exactly_the_same_reading(
    desk: DeskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(looks, "look", reading.look)  # nothing remembered from other tests
    do_everything(desk)
    shown = desk.get()
    for _ in range(2):
        live = LiveStudy(desk.study, StudyStore(desk.data).originals(desk.study))
        live.read()
        state = live.require_state()
        assert state.version == shown["version"]
        assert json.loads(json.dumps(state.document)) == shown["reading"]
        assert reading_json(state.now, {i["file"]: i["n"] for i in shown["reading"]["images"]})
        live.close()


def test_a_crash_in_the_middle_of_a_write_loses_only_that_write(desk: DeskClient) -> None:
    desk.edit("visit", murmur_grade=2)
    log = desk.data / "studies" / desk.study / "edits.jsonl"
    kept = log.read_bytes()
    desk.edit("visit", murmur_grade=6)
    log.write_bytes(kept + log.read_bytes()[len(kept) :][:25])
    for http in open_desk(desk.data):
        state = wait_until_read(http, desk.study)
        assert state["version"] == 1
        assert state["reading"]["visit"]["murmur_grade"] == 2
        assert "was not kept whole" in state["notices"][0]
        again = DeskClient(http, desk.study, desk.data)
        again.edit("visit", murmur_grade=3)
        assert again.get()["version"] == 2


def test_a_page_catches_up_from_any_version(desk: DeskClient) -> None:
    for grade in range(1, 7):
        desk.edit("visit", murmur_grade=grade)
    late = desk.get("/changes", params={"since": 4})
    assert late["version"] == 6
    assert [one["version"] for one in late["edits"]] == [5, 6]
    assert late["changed"]["visit"]["murmur_grade"] == 6
    for grade in (1, 2, 3, 4, 5):
        desk.edit("visit", murmur_grade=grade)
    too_late = desk.get("/changes", params={"since": 0})
    assert too_late["reading"]["visit"]["murmur_grade"] == 5


def test_several_editors_at_once_lose_nothing(desk: DeskClient) -> None:
    facts = ["murmur_grade", "systolic_pressure_readings"]

    def work(who: int) -> list[int]:
        return [
            desk.edit("visit", 0, f"editor {who}", **{facts[who]: value})["kept"]
            for value in (1, 2, 3, 4)
        ]

    with ThreadPoolExecutor(2) as pool:
        versions = [version for found in pool.map(work, (0, 1)) for version in found]
    assert sorted(versions) == list(range(1, 9))
    visit = desk.get()["reading"]["visit"]
    assert (visit["murmur_grade"], visit["systolic_pressure_readings"]) == (4, 4)
