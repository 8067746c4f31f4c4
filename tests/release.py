"""What is tried once before a release, and is too long for every day.

    .venv/bin/python -m tests.release lowest      the suite on the lowest versions that are allowed
    .venv/bin/python -m tests.release packages    sdist and wheel, each in a fresh environment of every Python

Both fetch packages, and end with 1 where something did not hold.
"""

from __future__ import annotations

import http.client
import os
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import tomllib
import venv
from collections.abc import Iterator, Sequence
from pathlib import Path

import webapp
from tests.forked import PATIENCE_S, free_port

TOP = Path(webapp.__file__).parent.parent
PYTHONS = ("python3.11", "python3.12", "python3.13")
_FLOOR = re.compile(r"(?P<name>[A-Za-z0-9_.-]+)(?:\[[^]]*\])?\s*>=\s*(?P<low>[0-9][^,;\s]*)")


def floors() -> list[str]:
    """The lowest version of each library, as constraints."""
    project = tomllib.loads((TOP / "pyproject.toml").read_text())["project"]
    wanted = [
        *project["dependencies"],
        *(one for some in project["optional-dependencies"].values() for one in some),
    ]
    return sorted({f"{m['name']}=={m['low']}" for one in wanted if (m := _FLOOR.match(one))})


def lowest() -> int:
    """Installs every library in its lowest version, and runs the suite on that."""
    with tempfile.TemporaryDirectory(prefix="benchside-") as made:
        python, constraints = _fresh(Path(made)), Path(made, "lowest.txt")
        constraints.write_text("\n".join(floors()) + "\n")
        _run([python, "-m", "pip", "install", "-q", "-e", f"{TOP}[test]", "-c", constraints])
        return subprocess.run([python, "-m", "pytest", "-q", "-p", "no:cacheprovider"], cwd=TOP).returncode


def packages() -> int:
    """Builds both, installs each into a fresh environment of each Python, and asks it for a page."""
    with tempfile.TemporaryDirectory(prefix="benchside-") as made:
        out, builder = Path(made, "dist"), _fresh(Path(made, "builder"))
        _run([builder, "-m", "pip", "install", "-q", "build"])
        _run([builder, "-m", "build", "-q", "--outdir", out, TOP])
        faults = 0
        for python in filter(_runs, PYTHONS):
            for package in sorted(out.iterdir()):
                fault = _tried(python, package, Path(made))
                print(f"{python}, {package.name}: {fault or 'good'}", flush=True)
                faults += bool(fault)
    return min(faults, 1)


def _runs(python: str) -> bool:
    """Whether a Python of this name is there, and is no version manager's stand-in for one that is not."""
    there = shutil.which(python) is not None
    return there and subprocess.run([python, "-c", ""], capture_output=True).returncode == 0


def _tried(python: str, package: Path, made: Path) -> str:
    with tempfile.TemporaryDirectory(dir=made) as folder:
        subprocess.run([python, "-m", "venv", f"{folder}/env"], check=True)
        _run([f"{folder}/env/bin/python", "-m", "pip", "install", "-q", package])
        port = free_port()
        told = [
            f"{folder}/env/bin/benchside",
            "--demo",
            "--no-browser",
            "--data",
            f"{folder}/data",
            "--port",
            port,
        ]
        # From a folder that holds nothing of ours: what it needs, it brings.
        process = subprocess.Popen([str(one) for one in told], cwd=folder, stdout=subprocess.PIPE, text=True)
        try:
            return "" if any(_answers(port, process)) else "it does not answer"
        finally:
            process.send_signal(signal.SIGINT)
            process.wait(PATIENCE_S)


def _answers(port: int, process: subprocess.Popen[str]) -> Iterator[bool]:
    until = time.monotonic() + PATIENCE_S
    while time.monotonic() < until and process.poll() is None:
        wire = http.client.HTTPConnection("127.0.0.1", port, timeout=PATIENCE_S)
        try:
            wire.request("GET", "/pair")
            yield wire.getresponse().status == 200
        except OSError:
            time.sleep(0.2)
        finally:
            wire.close()


def _fresh(folder: Path) -> Path:
    venv.create(folder / "env", with_pip=True)
    return folder / "env" / "bin" / "python"


def _run(words: Sequence[object]) -> None:
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    subprocess.run([str(one) for one in words], check=True, env=environment)


if __name__ == "__main__":
    sys.exit({"lowest": lowest, "packages": packages}[sys.argv[1]]())
