"""Several windows, a server that goes away, and what must not be lost."""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from .conftest import SIZE, Server
from .screen import Screen, until


@pytest.fixture
def own_server(tmp_path: Path, demo_folder: Path) -> Iterator[Server]:
    running = Server(tmp_path / "data", demo_folder)
    running.start()
    yield running
    running.stop()


@pytest.fixture
def two(browser: Any, own_server: Server) -> Iterator[tuple[Screen, Screen]]:
    contexts = [browser.new_context(viewport=SIZE) for _ in range(2)]
    screens = [Screen(context.new_page(), own_server) for context in contexts]
    for screen in screens:
        screen.open("I0003.dcm")
    yield screens[0], screens[1]
    for context in contexts:
        context.close()


def test_the_same_point_moved_in_two_windows_asks_who_counts(
    two: tuple[Screen, Screen], own_server: Server
) -> None:
    mine, theirs = two
    lower = own_server.number("LVIDd")["beats"][0]["points"][1]
    for screen in two:
        screen.choose("LVIDd")
        screen.press("s")
    # My window hears nothing while theirs works: its answer meets what it has not seen.
    mine.page.route("**/events", lambda route: route.abort())
    mine.page.route(re.compile(r"/api/studies/[0-9a-f]+$"), lambda route: route.abort())
    mine.drag(lower, (lower[0], lower[1] + 25), drop=False)
    theirs.drag(lower, (lower[0], lower[1] - 25))
    until(own_server.edits)
    mine.page.mouse.up()
    window = mine.page.get_by_role("dialog")
    window.wait_for()
    assert "LVIDd" in window.inner_text()
    mine.page.unroute(re.compile(r"/api/studies/[0-9a-f]+$"))
    window.get_by_role("button", name="Keep theirs").click()
    until(lambda: mine.page.get_by_role("dialog").count() == 0)
    assert [one["kind"] for one in own_server.edits()] == ["move"]
    assert own_server.number("LVIDd")["beats"][0]["points"][1][1] < lower[1]


def test_different_things_changed_in_two_windows_both_stand(
    two: tuple[Screen, Screen], own_server: Server
) -> None:
    mine, theirs = two
    theirs.choose("IVSd")
    theirs.press("a")
    until(lambda: own_server.number("IVSd")["decision"]["state"] == "accepted")
    mine.page.get_by_text("Changed in another window").first.wait_for()
    mine.choose("LVIDs")
    mine.press("a")
    until(lambda: own_server.number("LVIDs")["decision"]["state"] == "accepted")
    assert own_server.number("IVSd")["decision"]["state"] == "accepted"


def test_what_was_done_while_the_server_was_away_is_kept_and_sent(
    two: tuple[Screen, Screen], own_server: Server
) -> None:
    screen, _ = two
    screen.choose("LVIDd")
    own_server.stop()
    screen.press("a")
    screen.page.get_by_text("One change waits").wait_for()
    screen.page.evaluate("window.stop()")
    own_server.start()
    until(lambda: own_server.number("LVIDd")["decision"]["state"] == "accepted", 30)
    until(lambda: screen.page.get_by_text("Connection lost").count() == 0, 30)
    assert [one["kind"] for one in own_server.edits()] == ["decide"]


def test_what_waits_outlives_the_window(browser: Any, own_server: Server) -> None:
    context = browser.new_context(viewport=SIZE)
    screen = Screen(context.new_page(), own_server)
    screen.open("I0003.dcm")
    screen.choose("LVIDd")
    screen.page.route("**/edits", lambda route: route.abort())
    screen.press("x")
    screen.page.get_by_text("One change waits").wait_for()
    assert own_server.edits() == []
    screen.page.close()
    again = Screen(context.new_page(), own_server)
    again.open("I0003.dcm")
    until(lambda: [one["kind"] for one in own_server.edits()] == ["decide"])
    context.close()


def test_an_answer_that_was_lost_does_not_draw_twice(browser: Any, own_server: Server) -> None:
    context = browser.new_context(viewport=SIZE)
    screen = Screen(context.new_page(), own_server)
    screen.open("I0007.dcm")
    lost = []

    def lose_the_answer(route: Any) -> None:
        if lost:
            route.continue_()
            return
        lost.append(route.fetch().status)
        route.abort()

    screen.page.route("**/edits", lose_the_answer)
    screen.press("s", "1", "Enter")
    screen.page.wait_for_timeout(1500)  # the browser's own loop: the route is answered in it
    assert lost == [200]
    until(lambda: screen.page.get_by_text("Connection lost").count() == 0)
    until(lambda: "MR Vmax" in screen.number("MR Vmax"))
    screen.page.wait_for_timeout(3000)
    assert [one["kind"] for one in own_server.edits()] == ["caliper"]
    context.close()
