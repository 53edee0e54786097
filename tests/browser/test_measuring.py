"""Look, label, drag, undo: what a person does with a number."""

import re
from typing import Any

import pytest

from .conftest import Server
from .screen import Screen, until


@pytest.fixture
def screen(page: Any, server: Server) -> Screen:
    return Screen(page, server)


def test_a_dragged_edge_changes_number_index_and_check_and_can_be_undone(
    screen: Screen, server: Server
) -> None:
    screen.open("I0003.dcm")
    before = server.number("LVIDd")
    shortening = server.index("FS")["value"]
    beat = before["beats"][0]
    lower = beat["points"][1]
    screen.choose("LVIDd")
    screen.press("s")  # without snapping the point stays where the hand leaves it
    down_px = 30
    screen.drag(lower, (lower[0], lower[1] + down_px), drop=False)
    live = until(lambda: "LVIDDN" in screen.touched() and screen.touched())
    assert server.number("LVIDd")["value"] == before["value"], "nothing is kept before the drop"
    assert re.search(r"LVIDd\s+3\.\d+\s+3\.\d+", live)
    screen.page.mouse.up()
    moved = until(
        lambda: next(iter(b for b in server.number("LVIDd")["beats"] if b["by_hand"]), None)
    )
    # A caliper of an M-mode counts rows alone: 30 rows of the file's own calibration (
    # DICOM PS3.3 C.8.5.5), to 1.5 rows: a mouse reports whole pixels of the screen.
    row_cm = server.scale("I0003.dcm", 2)
    assert moved["value"] == pytest.approx(beat["value"] + down_px * row_cm, abs=1.5 * row_cm)
    until(lambda: server.number("LVIDd")["value"] > before["value"] + 0.1)
    assert server.index("FS")["value"] > shortening  # (d - s) / d grows with d
    after = f"{server.number('LVIDd')['value']:.2f}"
    until(lambda: after in screen.number("LVIDd"))

    screen.page.reload()
    screen.page.get_by_role("tab", name=re.compile("Numbers [0-9]+")).wait_for()
    assert after in screen.number("LVIDd")
    screen.press("z")
    until(lambda: server.number("LVIDd")["value"] == before["value"])
    until(lambda: f"{before['value']:.2f}" in screen.number("LVIDd"))
    screen.press("Shift+Z")
    until(lambda: server.number("LVIDd")["value"] > before["value"] + 0.1)
    screen.press("z")
    until(lambda: server.number("LVIDd")["value"] == before["value"])


def test_a_beat_is_left_out_and_taken_back(screen: Screen, server: Server) -> None:
    screen.open("I0003.dcm")
    before = server.number("IVSd")["value"]
    screen.choose("IVSd")
    box = screen.page.get_by_role("checkbox", name="use beat 2", exact=True)
    box.uncheck()
    until(lambda: not server.number("IVSd")["beats"][1]["used"])
    assert server.number("IVSd")["value"] != before
    box.check()
    until(lambda: server.number("IVSd")["value"] == before)


def test_a_label_is_one_key_and_the_numbers_follow(screen: Screen, server: Server) -> None:
    screen.open("I0008.dcm")
    assert server.number("E'")["value"] > 0
    screen.press("l", "1")  # the first flow of the list: mitral inflow
    until(lambda: server.ask()["reading"]["images"][7].get("flow") == "mitral inflow")
    names = [one["quantity"] for one in server.ask()["reading"]["measurements"]]
    assert "E'" not in names, "a tissue velocity is not read from what is labelled a blood flow"
    screen.press("z")
    until(lambda: server.ask()["reading"]["images"][7].get("flow") == "mitral annulus septal")
    until(lambda: server.has("E'"))


def test_a_distance_is_drawn_by_two_clicks_on_a_clip(screen: Screen, server: Server) -> None:
    screen.open("I0001.dcm")
    screen.press("s", "m")
    screen.page.get_by_role("searchbox").fill("LVLd")
    screen.press("Enter")
    start, end = (150.0, 250.0), (350.0, 250.0)
    screen.click(start)
    screen.click(end)
    until(lambda: server.has("LVLd", "caliper"))
    column_cm = server.scale("I0001.dcm", 1, "X")
    assert server.number("LVLd", "caliper")["value"] == pytest.approx(200 * column_cm, abs=0.03)
    screen.press("z")
    until(lambda: not server.has("LVLd", "caliper"))


def test_the_keyboard_alone_measures(screen: Screen, server: Server) -> None:
    screen.open("I0007.dcm")
    screen.press("s", "1")  # the first offer on this flow
    assert "MR" in screen.page.get_by_role("toolbar").inner_text()
    screen.press(*["ArrowDown"] * 3, "Shift+ArrowDown", "Enter")
    until(lambda: server.has("MR_Vmax", "caliper"))
    assert server.number("MR_Vmax", "caliper")["beats"][0]["n"] == 6
    value = server.number("MR_Vmax", "caliper")["value"]
    # The point begins at the middle of the spectrum, row (262 + 561) / 2, and went 13
    # rows down; the baseline is row 334 (the file's reference pixel, in rows of its region).
    assert value == pytest.approx(
        abs((262 + 561) / 2 + 13 - 334) * server.scale("I0007.dcm", 3) / 100, abs=0.02
    )
    screen.press("z")
    until(lambda: not server.has("MR_Vmax", "caliper"))


def test_accepting_all_that_is_unremarkable_takes_one_action(
    screen: Screen, server: Server
) -> None:
    screen.open()
    assert all(
        one["decision"]["state"] != "accepted"
        for one in server.ask()["reading"]["measurements"]
    )
    screen.press("Shift+A")
    until(lambda: server.number("IVSd")["decision"]["state"] == "accepted")
    jet = server.number("MR_Vmax")
    assert jet["decision"]["state"] == "open", (
        "a number that a check refuses is not signed with the others"
    )
    assert jet["remarkable"]
    screen.press("z")
    until(lambda: server.number("IVSd")["decision"]["state"] == "open")


def test_the_picture_behind_a_check_is_one_click_away(screen: Screen) -> None:
    screen.open("I0001.dcm")
    screen.page.get_by_role("tab", name=re.compile("Checks")).click()
    screen.page.get_by_role("button", name="Show the picture").first.click()
    screen.page.get_by_role("application", name=re.compile("I0007")).first.wait_for()


def test_a_drawing_that_is_half_done_outlives_a_reload(screen: Screen, server: Server) -> None:
    screen.open("I0005.dcm")
    screen.press("s", "m")
    screen.page.get_by_role("searchbox").fill("LAA")
    screen.press("Enter")
    for point in ((300.0, 200.0), (360.0, 220.0), (350.0, 300.0)):
        screen.click(point)
    screen.page.reload()
    screen.page.get_by_text("What was half drawn").wait_for()
    screen.click((290.0, 290.0))
    screen.press("Enter")
    until(lambda: server.has("LAA", "caliper"))
    assert len(server.number("LAA", "caliper")["beats"][0]["points"]) == 4
    screen.press("z")
    until(lambda: not server.has("LAA", "caliper"))
