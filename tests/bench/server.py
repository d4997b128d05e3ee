"""The server's own weight: start-up, memory while it waits and after its pages, filling,
rebuilding, the wheel.
"""

import subprocess
import sys
import time
import urllib.request
from datetime import UTC, datetime
from pathlib import Path

from qcapp.settings import Settings
from qcapp.store.engine import Store
from qcapp.store.projections.stove_projection import rebuild
from qcapp.usecases.fill_demo import prepare_demo
from tests.builders import make_cookie
from tests.e2e.server import ROOT, YardServer

PAGES = ("/trainer", "/trainer/steps", "/batches", "/batches/B1", "/yard/limits")


def measure_server(folder: Path) -> dict[str, float]:
    """Seconds by the clock, megabytes of 10^6 bytes (Linux; 0 elsewhere), stoves a second."""
    began = time.perf_counter()
    settings, figures = prepare_demo(
        Settings(database_url=f"sqlite:///{folder / 'demo.sqlite3'}"),
        fresh=False,
        now=datetime.now(UTC),
    )
    found = {
        "demo filled, s": time.perf_counter() - began,
        "records of the demo": float(figures["records"]),
    }
    store = Store(settings.database_url)
    cookie = make_cookie(store, now=datetime.now(UTC))
    began = time.perf_counter()
    with store.writing() as connection:
        stoves = rebuild(connection)
    found["rebuild, stoves a second"] = stoves / (time.perf_counter() - began)
    store.close()
    began = time.perf_counter()
    with YardServer(settings, folder) as server:
        found["start to first answer, s"] = time.perf_counter() - began
        found["idle server, MB"] = read_resident_mb(server.process.pid)
        for page in PAGES:
            request = urllib.request.Request(
                server.address + page, headers={"Cookie": f"qcapp={cookie}"}
            )
            urllib.request.urlopen(request, timeout=60).read()
        found["after its pages, MB"] = read_resident_mb(server.process.pid)
    return found | _measure_wheel(folder)


def read_resident_mb(pid: int) -> float:
    status = Path(f"/proc/{pid}/status")
    lines = status.read_text().splitlines() if status.exists() else []
    return next(
        (int(line.split()[1]) * 1024 / 1e6 for line in lines if line.startswith("VmRSS")), 0.0
    )


def _measure_wheel(folder: Path) -> dict[str, float]:
    """Its size, and how long it takes to install beside its packages (which are not counted)."""
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.STDOUT}
    subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)],
        cwd=ROOT,
        check=True,
        **quiet,
    )
    (wheel,) = folder.glob("*.whl")
    began = time.perf_counter()
    subprocess.run(
        [
            sys.executable,
            "-m",
            "pip",
            "install",
            "-q",
            "--no-deps",
            "--no-index",
            "--target",
            str(folder / "installed"),
            str(wheel),
        ],
        check=True,
        **quiet,
    )
    return {
        "wheel, kB": wheel.stat().st_size / 1e3,
        "wheel installed, s": time.perf_counter() - began,
    }
