"""An inspector's thumb: walks round a stove on the real screens and counts its taps."""

from dataclasses import dataclass, field
from pathlib import Path

from playwright.sync_api import Page

from tests.e2e.phone_words import list_words


@dataclass
class Inspector:
    """page: the phone; compiled: the checklist as the phone has it; language: the one that the
    phone shows.
    """

    page: Page
    compiled: dict
    size: str = "medium"
    taps: int = 0
    readings: int = 0
    language: str = "en"
    words: dict = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.words = list_words(self.language)

    def find_open(self) -> dict | None:
        """The check that the thumb acts on."""
        now = self.page.locator("#ui-now")
        asked = now.get_attribute("data-check") if now.count() else None
        return next((check for check in self.compiled["checks"] if check["id"] == asked), None)

    def tap(self, selector: str) -> None:
        wait_settled(self.page, selector)
        self.page.locator(selector).first.tap()
        self.taps += 1

    def join(self, address: str, code: str, name: str = "Ciro") -> None:
        self.page.goto(f"{address}/phone/#join={code}")
        wait_settled(self.page).locator("#ui-go").tap()
        wait_settled(self.page, ".rows.tall")
        self.page.get_by_role("button", name=name).tap()
        wait_settled(self.page, "#ui-next")

    def start_stove(self) -> str:
        """From today to the walk; gives the proposed serial."""
        self.tap("#ui-next")
        serial = wait_settled(self.page, "#ui-serial").locator("#ui-serial").input_value()
        self.tap("#ui-start")
        wait_settled(self.page, ".walk")
        return serial

    def walk(self, faults: dict | None = None, photo: Path | None = None) -> None:
        """Answers every open check until the review shows; faults: {check id: typed value or
        "fail"}.
        """
        for _ in range(200):
            wait_settled(self.page, ".walk .dock, dialog[open], #ui-save")
            if self.page.locator("#ui-save").count():
                return
            if self.page.locator("dialog[open]").count():
                self._name_fault(photo)
            else:
                self.answer(faults or {})
        raise AssertionError(f"the walk does not end: {self.page.url}")

    def save(self) -> None:
        self.tap("#ui-save")
        wait_settled(self.page, ".saved")

    def answer(self, faults: dict) -> None:
        """One answer to the open check, good unless `faults` names it."""
        check = self.find_open()
        before = self.page.locator("#screen").inner_html()
        if check is None:
            self.tap(".dock button.go")
        elif check["id"] in faults and check["kind"] == "tick":
            self.tap("#ui-fail")
        elif check["kind"] == "choice":
            self.tap(
                f"#ui-option-{next(o['id'] for o in check['options'] if o['verdict'] == 'pass')}"
            )
        elif check["kind"] == "tick":
            can_pass_all = self.page.locator("#ui-all").count() and not set(faults) & self._ticks(
                check["part"]
            )
            self.tap("#ui-all" if can_pass_all else "#ui-pass")
        else:
            self._type(faults.get(check["id"], self._good_value(check)))
        self.page.wait_for_function(
            "before => document.querySelector('#screen').innerHTML !== before", arg=before
        )

    def _ticks(self, part: str) -> set:
        return {
            check["id"]
            for check in self.compiled["checks"]
            if check["part"] == part and check["kind"] == "tick"
        }

    def _type(self, text: str) -> None:
        for character in text:
            self.tap("#ui-key-mark" if character == "." else f"#ui-key-{character}")
        self.tap("#ui-key-ok")
        self.readings += 1

    def _good_value(self, check: dict) -> str:
        limits = check["limits"][self.size]
        if limits["nominal"] is not None:
            return f"{limits['nominal']:g}"
        low, high = limits["accept_lower"], limits["accept_upper"]
        value = low if high is None else high if low is None else (low + high) / 2
        return f"{value:g}"

    def _name_fault(self, photo: Path | None) -> None:
        if photo is not None:
            self.page.locator("#ui-photo").set_input_files(photo)
            self.page.locator("dialog[open] img.photo").wait_for()
        if self.page.locator("dialog[open] [aria-pressed=true]").count() == 0:
            self.page.locator("dialog[open] [id^=ui-fault-]").first.tap()
        wait_settled(self.page, "#ui-done:enabled")
        self.page.locator("#ui-done").tap()
        self.page.locator("dialog[open]").wait_for(state="detached")


def show(page: Page, route: str) -> None:
    """A screen by its address, once it takes taps."""
    page.evaluate("route => { location.hash = route; }", route)
    wait_settled(page)


IS_SETTLED = """selector => {
  const shown = document.querySelector(selector);
  return shown?.checkVisibility() && !document.querySelector('#screen.settling');
}"""


def wait_settled(page: Page, selector: str = "#screen") -> Page:
    """The page, once its screen takes taps and shows the selected. Playwright's own waits look after a
    quarter of a second and then after three quarters; a screen that just came settles in between.
    """
    page.wait_for_function(IS_SETTLED, arg=selector)
    return page


def wait_unsent(page: Page, count: int) -> None:
    """Until the screen (today, saved) says that so many own records are not sent."""
    page.locator(f"[data-unsent='{count}']").first.wait_for()


def open_rest(page: Page) -> None:
    """Of today what stands behind one line."""
    page.locator("#ui-rest:not([open]) > summary").tap()
    page.locator("#ui-rest .chips").wait_for()


def send_now(page: Page) -> None:
    """Presses "Send now"; where the phone's own next try came first there is no such button any
    more.
    """
    page.locator("#ui-send").evaluate_all("found => found.forEach((button) => button.click())")
