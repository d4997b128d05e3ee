"""An update of the real folder by the button, killed once in the middle: python3 -m
tests.update_walk OLD.zip NEW.zip (from tests/.venv; Linux). Both are made by
.ci/build_folder.py --sign with one key; NEW says a later version.

Prints what happened and when. Exit 1: what went wrong.
"""

import json
import os
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from qcapp.release.place import Choice, ProgramPlace
from qcapp.release.trial import ask_version, find_free_port
from tests.conftest import CHROMIUM_FLAGS, get_chromium_path
from tests.e2e.test_first_hour import WORDS

ANSWER_S = 180


@contextmanager
def running(folder: Path, port: int) -> Iterator[subprocess.Popen]:
    """The unzipped program, with nothing else in its environment."""
    with (folder / "window.txt").open("a") as window:
        process = subprocess.Popen(
            [folder / "qcapp" / "qcapp", "start", "--no-browser", "--port", str(port)],
            env={"HOME": str(folder), "PATH": ""}, stdout=window, stderr=window,
            start_new_session=True,
        )  # fmt: skip
    try:
        yield process
    finally:
        os.killpg(process.pid, signal.SIGTERM)
        process.wait(30)


def await_version(port: int, version: str) -> None:
    end = time.monotonic() + ANSWER_S
    while time.monotonic() < end:
        if ask_version(port) == version:
            return
        time.sleep(0.2)
    raise AssertionError(f"no answer of {version}, but {ask_version(port)}")


def await_proof(place: ProgramPlace) -> None:
    end = time.monotonic() + ANSWER_S
    while not place.read_choice().is_proven and time.monotonic() < end:
        time.sleep(0.1)


def read_version(packed: Path) -> str:
    done = subprocess.run(
        ["unzip", "-p", packed, "qcapp/release.json"], check=True, capture_output=True
    )
    return json.loads(done.stdout)["version"]


def begin_yard(page: Page, base: str) -> None:
    page.goto(f"{base}/laptop/first")
    page.get_by_role("button", name="I am the yard lead").click()
    page.get_by_label("Sign-in code").fill("LEAD")
    page.get_by_label("Your name").fill("Lena")
    page.get_by_label("Password, 12 characters").fill(WORDS)
    page.get_by_label("Repeat the password").fill(WORDS)
    page.get_by_role("button", name="Set the password and sign in").click()
    page.get_by_role("link", name="Continue: Name the yard").wait_for()


def press_update(page: Page, base: str, packed: Path) -> None:
    page.goto(f"{base}/laptop")
    page.locator("#update-file").set_input_files(packed)
    page.get_by_role("button", name="Update").click()
    page.get_by_role("heading", name="The program is being updated").wait_for()


def walk(page: Page, folder: Path, old: Path, new: Path) -> None:
    began, before, after = time.monotonic(), read_version(old), read_version(new)

    def note(what: str) -> None:
        print(f"{time.monotonic() - began:7.1f} s  {what}", flush=True)

    subprocess.run(["unzip", "-q", old, "-d", folder], check=True)
    place, port = ProgramPlace(folder / "qcapp", "qcapp"), find_free_port()
    base = f"http://127.0.0.1:{port}"
    with running(folder, port) as process:
        await_version(port, before)
        begin_yard(page, base)
        note(f"{before} runs with a yard")
        press_update(page, base, new)
        while not list(place.versions.glob(".incoming-*/_internal/*")):
            time.sleep(0.02)
        os.killpg(process.pid, signal.SIGKILL)
        note("killed while the new version was being unpacked")
    assert place.read_choice() == Choice()
    with running(folder, port):
        await_version(port, before)
        note(f"{before} runs again, with its yard")
        press_update(page, base, new)
        note("the button is pressed again")
        await_version(port, after)
        note(f"{after} answers at the same address")
        await_proof(place)
        page.goto(f"{base}/laptop")
        assert after in page.locator(".facts").inner_text(), "the session goes on too"
    with running(folder, port):
        await_version(port, after)
        note(f"after a stop the unzipped program starts {after}")
    look_after(place, after)


def look_after(place: ProgramPlace, after: str) -> None:
    """What is left: the new version, proven, and one copy of the records."""
    choice = place.read_choice()
    assert choice.is_proven and choice.version == after and choice.failed is None, choice
    left = sorted(path.name for path in place.versions.iterdir())
    assert left == sorted([after, "chosen.json"]), left
    records = place.root.parent / ".local" / "share" / "qcapp"
    assert len(list(records.glob("qcapp.before-*.db"))) == 1


def main() -> int:
    old, new = (Path(word).resolve() for word in sys.argv[1:3])
    with tempfile.TemporaryDirectory() as named, sync_playwright() as driver:
        browser = driver.chromium.launch(
            executable_path=get_chromium_path(), args=list(CHROMIUM_FLAGS)
        )
        try:
            walk(browser.new_page(), Path(named), old, new)
        finally:
            window = Path(named) / "window.txt"
            said = window.read_text() if window.exists() else ""
            lines = [line for line in said.splitlines() if not line.startswith("{")]
            print("\n".join(lines[-12:]))
            browser.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
