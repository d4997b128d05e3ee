"""Twelve cases of an inspector's day on one phone, one after the other, without signal in between:
what each ends with, and how many taps it takes. The taps are kept in CASES.md beside this file.
"""

from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Page

from tests.conftest import CHROMIUM_FLAGS, PHONE, get_chromium_path
from tests.e2e.app_modules import wait_for_answer, with_modules
from tests.e2e.inspector import Inspector, show, wait_settled, wait_unsent
from tests.e2e.phone_words import word
from tests.e2e.server import read_checklist

TABLE = Path(__file__).with_name("CASES.md")
CAMERA = ("--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream")
# Counts every tap, without those that the driver held back because the screen still moved. The
# detector is one that reads the tag held before the (fake) camera, once that gives pictures.
SETUP = """(() => {
  addEventListener("click", ({ pointerType }) => pointerType === "touch" && window.tapped(), true);
  window.BarcodeDetector = class {
    async detect(video) {
      const isOn = video.videoWidth > 0 && video.srcObject.getVideoTracks()[0].readyState === "live";
      return isOn && localStorage.tag ? [{ rawValue: localStorage.tag }] : [];
    }
  };
})()"""
TYPED_IS_STORED = with_modules("""async (text) => {
  const { listDrafts } = await load("store/local_db.js");
  return (await listDrafts()).some(({ typed }) => typed?.text === text);
}""")


class Phone:
    """One phone through all cases; `taps` is counted by the page itself."""

    def __init__(self, playwright, folder: Path, server) -> None:
        self.playwright, self.folder, self.server, self.taps = playwright, folder, server, 0
        self.context: BrowserContext
        self.inspector = Inspector(None, read_checklist(server, "finished-stove"))
        self.open()

    @property
    def page(self) -> Page:
        return self.inspector.page

    def open(self) -> None:
        """As when its icon is tapped: the same storage, a new process."""
        self.context = self.playwright.chromium.launch_persistent_context(
            str(self.folder),
            executable_path=get_chromium_path(),
            args=[*CHROMIUM_FLAGS, *CAMERA],
            permissions=["camera"],
            **PHONE,
        )
        self.context.expose_function("tapped", self.count_tap)
        self.context.add_init_script(SETUP)
        self.inspector.page = self.context.pages[0]
        self.page.goto(f"{self.server.address}/phone/")

    def count_tap(self) -> None:
        self.taps += 1

    def kill(self) -> None:
        self.context.close()

    def tap(self, selector: str) -> None:
        wait_settled(self.page).locator(selector).first.tap()

    def start(self) -> str:
        show(self.page, "#/today")
        return self.inspector.start_stove()

    def part(self, part: str) -> None:
        """By the list of parts."""
        parts = {part["id"]: part["title"]["en"] for part in self.inspector.compiled["parts"]}
        self.tap(".part-bar h1 a")
        self.page.locator(".row", has_text=parts[part]).first.tap()

    def review(self) -> None:
        """Before everything is checked."""
        self.tap(".part-bar h1 a")
        self.tap("#ui-review")

    def save_as(self, kind: str | None = None, reason: str | None = None) -> None:
        if kind:
            self.tap(f"#ui-disposition-{kind}")
        if reason:
            self.page.locator("#ui-reason").fill(reason)
        self.inspector.save()

    def stove(self, serial: str) -> None:
        """By its number, from today."""
        show(self.page, "#/today")
        self.tap("#ui-find")
        self.page.locator("#ui-serial").fill(serial)
        self.page.locator("#ui-results button").first.tap()
        self.page.locator("section.ledger").first.wait_for()


@pytest.fixture
def phone(playwright, server, tmp_path) -> Iterator[Phone]:
    phone = Phone(playwright, tmp_path / "phone", server)
    phone.inspector.join(server.address, server.make_code())
    phone.page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    yield phone
    phone.kill()


def walk_good(phone: Phone) -> None:
    phone.start()
    phone.inspector.walk()
    phone.save_as()


def walk_too_wide(phone: Phone) -> None:
    phone.start()
    phone.inspector.walk({"door-opening-width": "106"})
    phone.page.get_by_text(word("fault.above", excess=3, unit="mm")).wait_for()
    phone.save_as("rework")


def find_loose_rivet(phone: Phone, shot: Path) -> None:
    """It can hurt someone: the walk ends there, and the stove goes back with a photo."""
    phone.start()
    phone.part("rivets")
    phone.tap("#ui-fail")
    phone.page.locator("#ui-photo").set_input_files(shot)
    phone.page.locator("dialog[open] img.photo").wait_for()
    phone.tap("#ui-fault-rivet-loose")
    phone.tap("#ui-done:enabled")
    phone.review()
    phone.save_as("rework")


def find_two_faults(phone: Phone) -> None:
    phone.start()
    phone.part("door-opening")
    phone.page.locator("[id^=ui-key-]").first.wait_for()
    phone.page.locator(".row", has_text="edges").last.tap()
    phone.tap("#ui-fail")
    phone.tap("#ui-fault-raw-edge")
    phone.tap("#ui-fault-sharp-corner")
    phone.page.locator("#ui-fault-sharp-corner[aria-pressed=true]").wait_for()
    phone.tap("#ui-done:enabled")
    phone.review()
    phone.save_as("rework")


def find_torn_opening(phone: Phone, shot: Path) -> None:
    phone.start()
    phone.part("door-opening")
    phone.tap("#ui-more")
    phone.tap("#ui-cannot-measure")
    phone.page.locator("#ui-photo").set_input_files(shot)
    phone.page.locator("dialog[open] img.photo").wait_for()
    phone.tap("#ui-done:enabled")
    phone.review()
    phone.save_as("scrap", "torn beyond repair")


def pause_and_kill(phone: Phone) -> None:
    """Killed in the middle of typing; paused from what opens again."""
    phone.start()
    phone.part("door-opening")
    phone.tap("#ui-key-9")
    phone.page.locator(".typed output", has_text="9").wait_for()
    # Shown first, then stored: a hand needs longer for the kill than the storing takes.
    wait_for_answer(phone.page, TYPED_IS_STORED, "9")
    where = phone.page.url
    phone.kill()
    phone.open()
    phone.page.locator(".typed output", has_text="9").wait_for()
    assert phone.page.url == where
    phone.tap("#ui-key-back")
    phone.tap(".part-bar h1 a")
    phone.page.get_by_role("button", name=word("walk.pause")).tap()
    phone.page.locator(".in-hand").wait_for()


def resume_next_day(phone: Phone) -> None:
    phone.context.clock.set_system_time(datetime.now(UTC) + timedelta(days=1))
    phone.page.reload()
    phone.page.locator("#ui-figure-done[data-n='0']").wait_for()
    phone.tap(".in-hand")
    phone.inspector.walk()
    phone.save_as()
    show(phone.page, "#/today")
    phone.page.locator("#ui-figure-done[data-n='1']").wait_for()


def rework_by_another(phone: Phone) -> None:
    """Too wide before; mended by Beda, who did not cut it."""
    phone.stove("B1-002")
    phone.page.locator("[id^=ui-reworked-door-opening-width]").select_option("A02")
    phone.tap("#ui-again")
    phone.inspector.walk()
    phone.save_as()


def correct(phone: Phone) -> None:
    phone.stove("B1-003")
    phone.page.get_by_role("button", name=word("stove.correct")).tap()
    phone.page.locator("#ui-correction").fill("the wall is torn too")
    phone.save_as("scrap", "torn beyond repair")


def strike_out(phone: Phone) -> None:
    phone.stove("B1-004")
    phone.page.get_by_text(word("stove.void"), exact=True).tap()
    phone.page.locator("details textarea").fill("the tag was of another stove")
    phone.page.get_by_role("button", name=word("stove.void_do"), exact=True).tap()
    phone.page.get_by_text(word("stove.voided")).wait_for()


def find_by_scan(phone: Phone) -> None:
    """A released stove came back: its tag opens it, and it is checked from the beginning."""
    phone.page.evaluate("localStorage.tag = 'B1-001'")
    show(phone.page, "#/today")
    phone.tap("#ui-find")
    phone.tap("#ui-scan")
    phone.page.locator("#ui-results button", has_text="B1-001").tap()
    phone.tap("#ui-again")
    phone.page.locator("#ui-now").wait_for()
    assert phone.page.locator("[data-check=sharp-edges]").count() == 1, "nothing is carried over"
    phone.tap("#ui-fail")
    phone.tap("#ui-fault-sharp-door")
    phone.tap("#ui-done:enabled")
    phone.review()
    phone.save_as("rework")


def practise(phone: Phone) -> None:
    show(phone.page, "#/today")
    phone.tap("#ui-rest summary")
    phone.page.get_by_role("link", name=word("practice.title")).tap()
    phone.page.get_by_role("button", name="Finished stove").tap()
    phone.tap("#ui-fail")
    phone.tap("#ui-fault-sharp-rim")
    phone.tap("#ui-done:enabled")
    phone.review()
    phone.save_as("rework")
    phone.page.get_by_text(word("practice.would")).wait_for()


def list_cases(shot: Path) -> dict[str, Callable[[Phone], None]]:
    return {
        "good": walk_good,
        "too wide": walk_too_wide,
        "loose rivet with photo": lambda phone: find_loose_rivet(phone, shot),
        "two faults on one check": find_two_faults,
        "torn opening": lambda phone: find_torn_opening(phone, shot),
        "paused and killed": pause_and_kill,
        "resumed next day": resume_next_day,
        "reworked by another": rework_by_another,
        "corrected": correct,
        "struck out": strike_out,
        "found by scan": find_by_scan,
        "practice": practise,
    }


def read_table() -> dict[str, int]:
    """Taps by case, as they are kept."""
    rows = [line.strip("| \n").split(" | ") for line in TABLE.read_text("utf-8").splitlines()]
    return {row[0]: int(row[1]) for row in rows if len(row) == 2 and row[1].strip().isdigit()}


def test_twelve_cases_of_a_day(phone, server, shot):
    server.stop()
    taps = {}
    for name, run in list_cases(shot).items():
        before = phone.taps
        run(phone)
        taps[name] = phone.taps - before
        print(f"{name}: {taps[name]} taps")
    # Ten records: a pause and a practice make none.
    show(phone.page, "#/today")
    wait_unsent(phone.page, 10)
    server.start()
    phone.page.locator("#ui-send").tap()
    wait_unsent(phone.page, 0)
    check_log(server)
    assert taps == read_table(), "\n".join(f"| {name} | {n} |" for name, n in taps.items())


def check_log(server) -> None:
    """What the server has of the day, in the order made."""
    found = [
        (
            event["kind"],
            event["stove"],
            (event["body"].get("replacement") or event["body"]).get("disposition", {}).get("kind"),
        )
        for _state, event in server.read_log()
        if event["kind"] in ("inspection", "correction", "void")
    ]
    assert found == [
        ("inspection", "B1-001", "release"),
        ("inspection", "B1-002", "rework"),
        ("inspection", "B1-003", "rework"),
        ("inspection", "B1-004", "rework"),
        ("inspection", "B1-005", "scrap"),
        ("inspection", "B1-006", "release"),
        ("inspection", "B1-002", "release"),
        ("correction", "B1-003", "scrap"),
        ("void", "B1-004", None),
        ("inspection", "B1-001", "rework"),
    ]
    bodies = [event["body"] for event in server.list_events("inspection")]
    assert bodies[6]["reworked_by"] == {"door-opening-width": "A02"}
    assert bodies[3]["answers"]["door-opening-edges"]["more_faults"] == ["sharp-corner"]
    assert len(bodies[2]["answers"]["rivets-tight"]["photos"]) == 1
    assert bodies[4]["answers"]["door-opening-width"]["mark"] == "cannot_measure"
