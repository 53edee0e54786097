"""The desk's server as a browser meets it, beside a folder of the same JPEGs over plain HTTP.

A process of its own serves a made-up cine; another plain one serves its frames as files.
"""

import http.client
import json
import os
import socket
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from benchmarks.line import Line

SERVE = """
import sys
from pathlib import Path
from tableside.cli.serve import serve
serve(Path(sys.argv[1]), host="127.0.0.1", port=int(sys.argv[2]), open_browser=False,
      studies=(Path(sys.argv[3]),))
"""
BARE = """
import sys
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer

class Quick(SimpleHTTPRequestHandler):
    protocol_version = "HTTP/1.1"
    disable_nagle_algorithm = True

ThreadingHTTPServer(("127.0.0.1", int(sys.argv[1])), Quick).serve_forever()
"""
FRAMES = 100
LVIDD = "LVIDd/automatic/leading edge"


class Browser:
    """One kept-alive connection."""

    def __init__(self, port: int) -> None:
        self.http = http.client.HTTPConnection("127.0.0.1", port, timeout=60)

    def get(self, path: str) -> bytes:
        """Return the body of an address; anything but 200 ends the benchmark."""
        self.http.request("GET", path)
        return self._body(path)

    def post(self, path: str, body: dict[str, Any]) -> Any:
        """Send JSON and return JSON."""
        self.http.request(
            "POST", path, json.dumps(body), headers={"content-type": "application/json"}
        )
        return json.loads(self._body(path))

    def _body(self, path: str) -> bytes:
        answer = self.http.getresponse()
        body = answer.read()
        if answer.status != 200:
            raise SystemExit(f"{path} answered {answer.status}: {body[:200]!r}")
        return body


def run(quick: bool) -> Iterator[Line]:
    """Yield the figures of frames, edits and memory."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        _make_study(folder / "study")
        port = _free_port()
        command = [sys.executable, "-c", SERVE, str(folder / "data"), str(port)]
        with subprocess.Popen(
            [*command, str(folder / "study")], stderr=subprocess.DEVNULL
        ) as it:
            try:
                study = _wait(port)
                yield from _edits(port, study, 5 if quick else 20)
                yield from _frames(port, study, folder, 2 if quick else 10)
                yield Line("  memory of the server", f"{_memory_mb(it.pid):.0f} MB", "", True)
            finally:
                it.terminate()


def _make_study(folder: Path) -> None:
    """Write the demo study, and its short axis again as 100 JPEG frames of 800 x 600."""
    from tableside.intake import open_study  # noqa: PLC0415
    from tableside.phantom.study import demo_study  # noqa: PLC0415

    demo_study(folder)
    import cv2  # noqa: PLC0415
    import pydicom  # noqa: PLC0415
    from pydicom.encaps import encapsulate  # noqa: PLC0415

    with open_study(folder) as opened:
        pictures = list(opened.frames("I0002.dcm"))
    frames = []
    for number in range(FRAMES):
        larger = cv2.resize(pictures[number % len(pictures)], (800, 600))
        _, data = cv2.imencode(".jpg", larger, [cv2.IMWRITE_JPEG_QUALITY, 85])
        frames.append(bytes(data))
    clip = pydicom.dcmread(folder / "I0002.dcm")
    clip.Rows, clip.Columns, clip.NumberOfFrames = 600, 800, FRAMES
    clip.SOPInstanceUID = clip.file_meta.MediaStorageSOPInstanceUID = f"{clip.SOPInstanceUID}.9"
    clip.PhotometricInterpretation, clip.SamplesPerPixel = "YBR_FULL_422", 3
    clip.PixelData = encapsulate(frames)
    clip.save_as(folder / "I0099.dcm")


def _edits(port: int, study: str, times: int) -> Iterator[Line]:
    browser = Browser(port)
    base = f"/api/studies/{study}"
    state = json.loads(browser.get(base))
    beat = next(one for one in state["reading"]["measurements"] if one["id"] == LVIDD)["beats"][
        0
    ]
    x, y = beat["points"][1]

    def body(rows: float) -> dict[str, Any]:
        payload = {"beat": beat["id"], "point": 1, "to": [x, y + rows]}
        return {"base_version": 0, "who": "benchmark", "kind": "move", "payload": payload}

    preview = _median_ms(lambda n: browser.post(f"{base}/preview", body(1 + n % 7)), times)
    # every point another one: what was concluded from the same numbers is not concluded again
    edit = _median_ms(lambda n: browser.post(f"{base}/edits", body(1 + 0.37 * n)), times)
    whole = _median_ms(lambda _: browser.get(base), times)
    yield Line(
        "a dragged point, numbers back", f"{preview:.0f} ms", "limit 50 ms", preview < 50
    )
    yield Line("an edit kept and concluded", f"{edit:.0f} ms", "limit 200 ms", edit < 200)
    yield Line(
        "a whole study", f"{whole:.0f} ms", f"{len(browser.get(base)) / 1e3:.0f} kB", True
    )


def _frames(port: int, study: str, folder: Path, rounds: int) -> Iterator[Line]:
    browser = Browser(port)
    state = json.loads(browser.get(f"/api/studies/{study}"))
    number = next(one["n"] for one in state["reading"]["images"] if one["frames"] == FRAMES)
    base = f"/api/studies/{study}/images/{number}"
    first = _median_ms(lambda _: browser.get(f"{base}/frames/0"), 20)
    bare_folder = folder / "bare"
    bare_folder.mkdir()
    for frame in range(FRAMES):
        data = browser.get(f"{base}/frames/{frame}")
        (bare_folder / f"{frame}.jpg").write_bytes(data)
    with _bare(bare_folder) as bare_port:
        bare = _rate(lambda: Browser(bare_port), "/{}.jpg", rounds)
    ours = _rate(lambda: Browser(port), f"{base}/frames/{{}}", rounds)
    browser = Browser(port)  # a server lets idle connections go
    pack = _median_ms(lambda _: browser.get(f"{base}/frames?from=0&count={FRAMES}"), 5)
    yield Line(
        "first frame of 100 of 800 x 600", f"{first:.1f} ms", "limit 300 ms", first < 300
    )
    beside = f"bare files {bare:.0f}/s"
    yield Line("frames one by one, four connections", f"{ours:.0f}/s", beside, True)
    yield Line(
        "  the same in one pack", f"{1000 * FRAMES / pack:.0f}/s", f"{pack:.0f} ms", True
    )


class _bare:  # noqa: N801  used as a word
    """The standard library's file server over a folder, in a process of its own."""

    def __init__(self, folder: Path) -> None:
        self.port = _free_port()
        self._command = [sys.executable, "-c", BARE, str(self.port)]
        self._folder = folder

    def __enter__(self) -> int:
        self._process = subprocess.Popen(
            self._command,
            cwd=self._folder,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        _wait_for_port(self.port)
        return self.port

    def __exit__(self, *_: object) -> None:
        self._process.terminate()
        self._process.wait()


def _rate(browser: Callable[[], Browser], path: str, rounds: int) -> float:
    """Return frames a second over four connections, as browsers open them."""

    def fetch(offset: int) -> None:
        mine = browser()
        for _ in range(rounds):
            for frame in range(offset, FRAMES, 4):
                mine.get(path.format(frame))

    threads = [threading.Thread(target=fetch, args=(offset,)) for offset in range(4)]
    started = time.perf_counter()
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return rounds * FRAMES / (time.perf_counter() - started)


def _median_ms(work: Callable[[int], object], times: int) -> float:
    took = []
    for number in range(times):
        started = time.perf_counter()
        work(number)
        took.append(1000 * (time.perf_counter() - started))
    return statistics.median(took)


def _wait(port: int) -> str:
    _wait_for_port(port)
    browser = Browser(port)
    while True:
        found = json.loads(browser.get("/api/studies"))
        if found and found[0]["status"] != "reading":
            return str(found[0]["id"])
        time.sleep(0.1)


def _wait_for_port(port: int) -> None:
    for _ in range(600):
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.1)
    raise SystemExit("the server did not start")


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _memory_mb(process: int) -> float:
    status = Path(f"/proc/{process}/status")
    if not status.exists():
        return float("nan")
    lines = status.read_text().splitlines()
    peak = next(line for line in lines if line.startswith("VmHWM"))
    return int(peak.split()[1]) / 1024


if __name__ == "__main__":
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    for line in run(quick=False):
        print(f"{line.what:45} {line.measured:>12} {line.beside:>24}")
