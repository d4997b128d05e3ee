"""From an empty machine to the first stove on a phone, timed: python3 -m tests.first_stove ZIP
(from tests/.venv; Linux with unshare, bwrap, unzip and certutil).

The laptop is a root that holds the C library and a shell, and no Python; its network is one of its
own, without a way out, where the laptop has a hotspot's address. The lead's and the phone's
browsers are Chromium beside it, in that network. Prints the table of tests/frame/FIRST_STOVE.md.
"""

import os
import re
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from qcapp.checklist.load import load_checklist
from tests.conftest import CHROMIUM_FLAGS, get_chromium_path, open_profile
from tests.e2e.inspector import Inspector
from tests.e2e.test_first_hour import CREW, WORDS, add_people

CHECKOUT = Path(__file__).resolve().parent.parent
ADDRESS = "10.42.0.1"
LIBRARIES = Path("/usr/lib/x86_64-linux-gnu")
# The C library with its parts, and zlib: what every Linux with a desktop has.
C_LIBRARY = (
    "libz.so.1",
    "libc.so.6",
    "libm.so.6",
    "libdl.so.2",
    "libpthread.so.0",
    "librt.so.1",
    "libutil.so.1",
)
LOADER = "/lib64/ld-linux-x86-64.so.2"
START_S = 120
TO_READ = """() => {
  const copy = (document.querySelector("main") || document.body).cloneNode(true);
  const aside = "nav, script, style, select, svg, .print-only, details:not([open])";
  copy.querySelectorAll(aside).forEach((one) => one.remove());
  return copy.textContent;
}"""
# Read slowly, as somebody who sees the words for the first time.
WORDS_A_MINUTE = 120


@dataclass
class Walk:
    """What was done and when. read: words of each page that the lead had to look at."""

    began: float = field(default_factory=time.monotonic)
    lines: list[tuple[float, str]] = field(default_factory=list)
    read: int = 0
    pages: set[str] = field(default_factory=set)

    def note(self, what: str) -> None:
        self.lines.append((time.monotonic() - self.began, what))
        print(f"{self.lines[-1][0]:7.1f} s  {what}", flush=True)

    def look(self, page: Page) -> None:
        """Each page is read whole the first time, but for its menus and lists to choose from."""
        if page.url not in self.pages:
            words = len(page.evaluate(TO_READ).split())
            self.pages.add(page.url)
            self.read += words
            self.note(f"{words} words to read: {page.title()}")


def enter_network() -> None:
    """Runs this module again in a network of its own."""
    words = [sys.executable, "-m", "tests.first_stove", "--inside", *sys.argv[1:]]
    os.execvp("unshare", ["unshare", "--map-root-user", "--net", *words])


def switch_hotspot_on() -> None:
    """An interface with an address, as a hotspot makes one; its other end is nobody's."""
    for words in (
        "link set lo up",
        "link add yard0 type veth peer name yard1",
        f"addr add {ADDRESS}/24 dev yard0",
        "link set yard1 up",
        "link set yard0 up",
    ):
        subprocess.run(["ip", *words.split()], check=True)


def describe_machine(home: Path) -> list[str]:
    """The command that runs what follows it on the empty machine."""
    libraries = [LIBRARIES / name for name in C_LIBRARY if (LIBRARIES / name).exists()]
    binds = [(str(path), str(path)) for path in libraries]
    binds += [(LOADER, LOADER), ("/bin/dash", "/bin/sh")]
    words = ["bwrap", "--clearenv", "--setenv", "HOME", "/lead", "--bind", str(home), "/lead"]
    words += ["--proc", "/proc", "--dev", "/dev", "--tmpfs", "/tmp", "--chdir", "/lead"]
    for source, target in binds:
        words += ["--ro-bind", source, target]
    return [*words, "--symlink", str(LIBRARIES), "/lib/x86_64-linux-gnu", "--die-with-parent"]


def show_emptiness(machine: list[str]) -> None:
    """No Python, no compiler, no package tool answers there."""
    for name in ("python3", "python", "pip", "gcc", "ls"):
        done = subprocess.run([*machine, "/bin/sh", "-c", name], capture_output=True, check=False)
        assert done.returncode == 127, f"{name} is there"


@contextmanager
def running(machine: list[str], home: Path) -> Iterator[str]:
    """The address that the window says, after a double click on start-qcapp.sh."""
    log = home / "window.txt"
    with log.open("w") as window:
        process = subprocess.Popen(
            [*machine, "/bin/sh", "qcapp/start-qcapp.sh"], stdout=window, stderr=window
        )
    try:
        end = time.monotonic() + START_S
        while time.monotonic() < end:
            found = re.search(r"page of this laptop:\s+(\S+)", log.read_text())
            if found:
                yield found[1]
                return
            assert process.poll() is None, log.read_text()
            time.sleep(0.1)
        raise AssertionError(log.read_text())
    finally:
        process.send_signal(signal.SIGTERM)
        process.wait(20)


def set_up(walk: Walk, page: Page, first: str) -> None:
    page.goto(first)
    page.get_by_role("heading", name="The server is on").wait_for()
    walk.note("the first page is there")
    walk.look(page)
    page.get_by_role("button", name="I am the yard lead").click()
    page.get_by_label("Sign-in code").fill("LEAD")
    walk.look(page)
    page.get_by_label("Your name").fill("Lena")
    page.get_by_label("Password, 12 characters").fill(WORDS)
    page.get_by_label("Repeat the password").fill(WORDS)
    page.get_by_role("button", name="Set the password and sign in").click()
    page.get_by_role("link", name="Continue: Name the yard").wait_for()
    walk.note("the lead has an account")
    walk.look(page)
    follow_guide(walk, page)
    walk.note("name, sizes, checklist, three people, crew and the first batch are entered")


def follow_guide(walk: Walk, page: Page) -> None:
    """The steps of the guided start up to the first phone."""
    page.get_by_role("link", name="Continue: Name the yard").click()
    page.locator("[name=name]").fill("Upper yard")
    walk.look(page)
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Sizes and checklists").wait_for()
    walk.look(page)
    page.locator("[name=sizes][value=medium]").check()
    page.locator("[name=checklist_ids][value=finished-stove]").check()
    page.locator("main form button").first.click()
    page.get_by_role("heading", name="People").wait_for()
    walk.look(page)
    add_people(page)
    page.get_by_role("link", name="Next: Crew").click()
    walk.look(page)
    for trade, code in CREW.items():
        page.locator(f"[name='crew.{trade}']").select_option(code)
    page.get_by_role("button", name="Save the crew").click()
    page.get_by_role("heading", name="Open and close batches").wait_for()
    walk.look(page)
    page.locator("[name=planned]").fill("20")
    page.get_by_role("button", name="Open this batch").click()
    page.get_by_role("button", name="Make a join code").wait_for()
    walk.look(page)


def let_phones_in(walk: Walk, page: Page) -> str:
    """The address at which a new phone begins."""
    page.get_by_role("link", name="Let phones in").click()
    page.get_by_role("heading", name="No phone can reach it yet").wait_for()
    walk.look(page)
    page.locator(f"[name=address][value='{ADDRESS}']").check()
    page.get_by_role("button", name="Let phones in").click()
    page.get_by_role("heading", name="Phones reach it").wait_for()
    walk.note(f"phones are let in at {ADDRESS}")
    return page.locator("figcaption").inner_text()


def make_phone(driver, home: Path, authority: Path):
    """Chromium of a phone's size that has installed what it was given. The taps for that are the
    phone's own, and no part of this walk.
    """
    store = home / ".pki" / "nssdb"
    store.mkdir(parents=True)
    for words in (["-N", "--empty-password"], ["-A", "-t", "C,,", "-n", "yard", "-i", authority]):
        subprocess.run(["certutil", "-d", f"sql:{store}", *map(str, words)], check=True)
    return open_profile(driver, home / "profile", env={**os.environ, "HOME": str(home)})


def save_first_stove(walk: Walk, driver, laptop: Page, folder: Path, first_page: str) -> None:
    authority = folder / "authority.crt"
    asked = laptop.context.request.get(f"{first_page}authority.crt")
    authority.write_bytes(asked.body())
    context = make_phone(driver, folder / "phone", authority)
    phone = context.pages[0]
    phone.goto(first_page)
    phone.get_by_text("Yes, it does").wait_for()
    walk.look(phone)
    walk.note("the phone has the certificate and says so itself")
    laptop.goto("http://127.0.0.1:8000/yard")
    laptop.get_by_role("button", name="Make a join code").click()
    address = laptop.locator("figcaption").inner_text()
    assert address.startswith(f"https://{ADDRESS}:8443/phone/#join="), address
    base, _, code = address.partition("/phone/#join=")
    compiled = load_checklist(CHECKOUT / "checklists" / "finished-stove.yaml").compiled()
    inspector = Inspector(phone, compiled)
    inspector.join(base, code)
    walk.note("the phone has joined")
    assert inspector.start_stove() == "B1-001"
    inspector.walk()
    inspector.save()
    walk.note(f"the first stove is saved on the phone, after {inspector.taps} taps")
    for _ in range(100):
        if laptop.context.request.get("http://127.0.0.1:8000/stoves/finished/B1-001").ok:
            break
        laptop.wait_for_timeout(200)
    else:
        raise AssertionError("the first stove did not arrive")
    laptop.goto("http://127.0.0.1:8000/laptop")
    assert "1 phone joined" in laptop.locator("main").inner_text()
    walk.note("the laptop has it")
    context.close()


def main() -> int:
    if "--inside" not in sys.argv:
        enter_network()
    packed = Path(sys.argv[-1]).resolve()
    switch_hotspot_on()
    with tempfile.TemporaryDirectory() as named, sync_playwright() as driver:
        home = Path(named) / "lead"
        home.mkdir()
        machine = describe_machine(home)
        show_emptiness(machine)
        browser = driver.chromium.launch(
            executable_path=get_chromium_path(), args=list(CHROMIUM_FLAGS)
        )
        walk, page = Walk(), browser.new_page()
        subprocess.run(["unzip", "-q", packed, "-d", home], check=True)
        walk.note("unzipped")
        with running(machine, home) as first:
            walk.note("the window says the address")
            set_up(walk, page, first)
            first_page = let_phones_in(walk, page)
            save_first_stove(walk, driver, page, Path(named), first_page)
        browser.close()
    minutes = walk.read / WORDS_A_MINUTE
    print(f"{len(walk.pages)} pages of {walk.read} words: {minutes:.1f} minutes to read them whole")
    return 0


if __name__ == "__main__":
    sys.exit(main())
