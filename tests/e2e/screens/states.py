"""The fullest states of the screens, one after the other: what has most to show."""

from collections.abc import Iterable, Iterator
from pathlib import Path

from playwright.sync_api import Page

from tests.e2e.inspector import Inspector, show, wait_settled


def wait_calm(page: Page) -> None:
    wait_settled(page)
    page.wait_for_timeout(60)


def type_in(page: Page, keys: Iterable[str]) -> None:
    for key in keys:
        wait_settled(page).locator(f"#ui-key-{key}").tap()


def visit(inspector: Inspector, shot: Path) -> Iterator[str]:
    """Yields the name of each state of the screens, the fullest ones."""
    yield "today"
    yield from visit_first_checks(inspector.page, shot)
    yield from visit_readings(inspector.page)
    yield from visit_closing(inspector.page)
    yield from visit_day(inspector)


def visit_first_checks(page: Page, shot: Path) -> Iterator[str]:
    """A stove is begun, one check passes, another fails with a photo."""
    show(page, "#/next")
    page.locator("#ui-serial").fill("B9-001")
    page.locator("#ui-start").tap()
    page.locator("#ui-sure").wait_for()
    yield "next, odd serial"
    page.locator("#ui-serial").fill("B1-001")
    page.locator("#ui-start").tap()
    page.locator(".walk").wait_for()
    yield "tick"
    wait_settled(page).locator("#ui-pass").tap()
    wait_calm(page)
    yield "tick, answered"
    page.locator("#ui-how").tap()
    yield "tick, how"
    wait_settled(page).locator("#ui-fail").tap()
    page.locator("dialog[open]").wait_for()
    page.locator("dialog [id^=ui-fault-]").first.tap()
    page.locator("#ui-photo").set_input_files(shot)
    page.locator("dialog[open] img.photo").wait_for()
    yield "fault"
    page.locator("#ui-done").tap()
    wait_calm(page)


def visit_readings(page: Page) -> Iterator[str]:
    """Numbers that are too wide or too close to call, a group, a clock, a tool that is missing."""
    show(page, "#/walk/door-opening")
    yield "pad, answered"
    type_in(page, "106")
    yield "pad, too wide"
    type_in(page, ["ok"])
    page.locator("dialog[open]").wait_for()
    page.locator("#ui-done").tap()
    wait_calm(page)
    type_in(page, ["6", "7", "ok"])
    page.locator("dialog[open]").wait_for()
    yield "too close to call"
    page.locator("#ui-again").tap()
    wait_calm(page)
    type_in(page, ["6", "8"])
    yield "pad, second reading"
    show(page, "#/walk/liner")
    yield "group"
    show(page, "#/walk/legs")
    page.locator("#ui-timer").tap()
    yield "clock"
    show(page, "#/walk/grate")
    wait_settled(page).locator("#ui-more").tap()
    page.locator("dialog[open]").wait_for()
    yield "more"
    page.locator("#ui-cannot-measure").tap()
    page.locator("#ui-fault-cannot-measure").wait_for()
    yield "cannot be measured"
    page.locator("#ui-note").fill("torn")
    page.locator("#ui-done").tap()
    wait_calm(page)


def visit_closing(page: Page) -> Iterator[str]:
    """The stove is reviewed and saved; what is reached from the first screen."""
    show(page, "#/parts")
    yield "parts"
    show(page, "#/review")
    page.locator("#ui-disposition-hold").tap()
    yield "review"
    page.locator("#ui-reason").fill("waits for the lead")
    page.locator("#ui-save").tap()
    page.locator(".saved").wait_for()
    yield "saved"
    for name in ("rework", "mine", "settings", "stove/finished%2FB1-001"):
        show(page, f"#/{name}")
        yield name.split("/")[0]


def visit_day(inspector: Inspector) -> Iterator[str]:
    """The day sheet with faults of two makers and a paused stove; the way to a stove."""
    page = inspector.page
    show(page, "#/today")
    inspector.start_stove()
    inspector.walk({"door-opening-width": "106", "sharp-edges": "fail"})
    inspector.save()
    inspector.tap("#ui-next")
    page.locator("#ui-start").tap()
    wait_settled(page).locator("#ui-pass").tap()
    show(page, "#/today")
    page.locator("#ui-people").wait_for()
    yield "day sheet"
    page.locator("#ui-rest summary").tap()
    page.locator("#ui-rest .chips").wait_for()
    yield "everything else"
    page.locator("#ui-rest summary").tap()
    show(page, "#/find")
    page.locator("#ui-serial").fill("1")
    page.locator("#ui-results button").first.wait_for()
    yield "find"
