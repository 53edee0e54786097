"""A desk over the demo study in a server of its own, and a real browser before it."""

import json
import os
import shutil
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pydicom
import pytest

from tableside.phantom.study import demo_study
from tableside.server.pages import missing_pages

sync_api = pytest.importorskip(
    "playwright.sync_api",
    reason="the browser tests need playwright: `uv pip install playwright`",
)
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
SIZE = {"width": 1280, "height": 720}
START = "import sys; from tableside.cli import main; sys.argv[0] = 'tableside'; main()"


@dataclass
class Server:
    """`tableside serve` on a port that stays the same when it starts again."""

    data: Path
    study_folder: Path
    address: str = ""
    study: str = ""
    process: subprocess.Popen[str] | None = field(default=None, repr=False)

    def start(self) -> None:
        port = self.address.rpartition(":")[2] or "0"
        command = [sys.executable, "-c", START, "serve", str(self.study_folder)]
        command += ["--data", str(self.data), "--port", port, "--no-browser"]
        self.process = subprocess.Popen(command, stderr=subprocess.PIPE, text=True)
        assert self.process.stderr is not None
        for line in self.process.stderr:
            if "http://" in line:
                url = line.partition("http://")[2].split()[0]
                self.address = "http://" + url.partition("/")[0]
                self.study = url.rpartition("/")[2]
                break
        self.wait()

    def stop(self) -> None:
        assert self.process is not None
        self.process.kill()
        self.process.wait()
        assert self.process.stderr is not None
        self.process.stderr.close()

    def ask(self, path: str = "", body: Any = None) -> Any:
        request = urllib.request.Request(
            f"{self.address}/api/studies/{self.study}{path}",
            data=None if body is None else json.dumps(body).encode(),
            headers={"content-type": "application/json"},
        )
        with urllib.request.urlopen(request, timeout=60) as answer:
            return json.load(answer)

    def wait(self) -> None:
        for _ in range(600):
            if self.ask()["status"] == "ready":
                return
            time.sleep(0.1)
        raise AssertionError("the study was not read within a minute")

    def has(self, quantity: str, method: str = "automatic") -> bool:
        numbers = self.ask()["reading"]["measurements"]
        return any((one["quantity"], one["method"]) == (quantity, method) for one in numbers)

    def number(self, quantity: str, method: str = "automatic") -> dict[str, Any]:
        found: dict[str, Any] = next(
            one
            for one in self.ask()["reading"]["measurements"]
            if one["quantity"] == quantity and one["method"] == method
        )
        return found

    def index(self, name: str) -> dict[str, Any]:
        found: dict[str, Any] = next(
            one for one in self.ask()["reading"]["indices"] if one["name"] == name
        )
        return found

    def scale(self, file: str, kind: int, axis: str = "Y") -> float:
        """Return what the file itself says: units a row or column of its region of a kind.

        Spatial formats (DICOM PS3.3 C.8.5.5.1.1): 1 is 2-D, 2 M-mode, 3 spectral (in cm/s).
        """
        regions = pydicom.dcmread(self.study_folder / file).SequenceOfUltrasoundRegions
        found = next(one for one in regions if one.RegionSpatialFormat == kind)
        return abs(float(found[f"PhysicalDelta{axis}"].value))

    def edits(self) -> list[dict[str, Any]]:
        found: list[dict[str, Any]] = self.ask()["edits"]
        return found


@pytest.fixture(scope="session")
def demo_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("demo") / "study"
    demo_study(folder)
    return folder


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    path = os.environ.get("CHROMIUM") or shutil.which("chromium")
    if path is None:
        pytest.skip("no chromium: `apt-get install chromium`, or name one in CHROMIUM")
    if missing_pages() is not None:
        pytest.skip("no pages: `cd web && npm ci --ignore-scripts && npx vite build`")
    with sync_api.sync_playwright() as playwright:
        found = playwright.chromium.launch(executable_path=path, args=list(FLAGS))
        yield found
        found.close()


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory, demo_folder: Path) -> Iterator[Server]:
    running = Server(tmp_path_factory.mktemp("data"), demo_folder)
    running.start()
    yield running
    running.stop()


@pytest.fixture
def page(browser: Any) -> Iterator[Any]:
    context = browser.new_context(viewport=SIZE)
    opened = context.new_page()
    faults: list[str] = []
    opened.on("pageerror", lambda error: faults.append(str(error)))
    yield opened
    context.close()
    assert faults == []
