"""Answers under a thumb: what is taken back, what is not judged yet, what can be chosen."""

import pytest

from tests.e2e.app_modules import READ_DRAFT, with_modules
from tests.e2e.inspector import show, wait_settled
from tests.e2e.phone_words import word

VIBRATED = """window.pulses = [];
  Object.defineProperty(navigator, "vibrate", { value: (pulse) => window.pulses.push(pulse) });"""


@pytest.fixture
def phone_page(phone_page):
    """It writes down each vibration."""
    phone_page.add_init_script(VIBRATED)
    return phone_page


def go_to(page, part):
    show(page, f"#/walk/{part}")
    page.locator("#ui-now, .part-bar").first.wait_for()


def type_in(page, keys):
    for key in keys:
        wait_settled(page).locator(f"#ui-key-{key}").tap()


def tap_fail(page):
    wait_settled(page).locator("#ui-fail").tap()
    page.locator("dialog[open]").wait_for()


@pytest.mark.parametrize("leave", ["Escape", "Back"])
def test_sheet_is_cancelled_with_the_answer_that_opened_it(inspector, leave, shot):
    page = inspector.page
    inspector.start_stove()
    address = page.url
    for _ in range(2):
        tap_fail(page)
        page.locator("#ui-note").fill("not this one")
        page.locator("#ui-photo").set_input_files(shot)
        page.locator("dialog[open] img.photo").wait_for()
        page.keyboard.press("Escape") if leave == "Escape" else page.go_back()
        page.locator("dialog[open]").wait_for(state="detached")
        assert page.url == address and page.evaluate("history.state") is None
        draft = page.evaluate(READ_DRAFT)
        assert draft["answers"] == {} and draft["at"]["check"] == "sharp-edges"
    page.wait_for_timeout(100)
    assert (
        page.evaluate(
            with_modules("""async () => {
          const {withStores, ask} = await load('store/db.js');
          return withStores(["photos"], "readonly", ({photos}) => ask(photos.count())); }""")
        )
        == 0
    ), "a photo of a cancelled sheet is not kept"
    go_to(page, "door-opening")
    type_in(page, ["9", "7", "ok"])
    page.locator("dialog[open]").wait_for()
    page.keyboard.press("Escape") if leave == "Escape" else page.go_back()
    page.locator("dialog[open]").wait_for(state="detached")
    assert page.locator("output").inner_text().startswith("97")
    assert page.evaluate(READ_DRAFT)["answers"] == {}


def test_one_step_back_leaves_the_walk_and_today_offers_to_go_on(inspector):
    page = inspector.page
    serial = inspector.start_stove()
    inspector.answer({})
    tap_fail(page) if page.locator("#ui-fail").count() else None
    if page.locator("dialog[open]").count():
        page.locator("dialog [id^=ui-fault-]").first.tap()
        page.locator("#ui-done").tap()
    inspector.answer({})
    page.locator(".walk").wait_for()
    page.go_back()
    page.get_by_role("button", name=word("today.resume", stove=serial)).tap()
    page.locator(".walk").wait_for()
    inspector.walk()
    page.go_back()
    page.get_by_role("button", name=word("today.resume", stove=serial)).tap()
    inspector.save()
    page.go_back()
    page.locator("#ui-next").wait_for()
    assert page.get_by_role("button", name=word("today.resume", stove=serial)).count() == 0


def pass_open(page, check: str) -> None:
    wait_settled(page).locator(f"#ui-now[data-check={check}]").wait_for()
    wait_settled(page).locator("#ui-pass").tap()


def test_last_answer_can_be_undone_for_some_seconds(inspector):
    page = inspector.page
    inspector.start_stove()
    wait_settled(page).locator("#ui-pass").tap()
    page.locator("#ui-answered", has_text=word("verdict.pass")).wait_for()
    page.locator("#ui-undo").tap()
    page.locator("#ui-now[data-check=sharp-edges]").wait_for()
    assert page.evaluate(READ_DRAFT)["answers"] == {}
    assert page.locator("#ui-answered").count() == 0
    pass_open(page, "sharp-edges")
    pass_open(page, "body-joints")
    page.locator(".part-bar h1", has_text="Rivets").wait_for()
    page.locator("#ui-undo").tap()
    page.locator(".part-bar h1", has_text="Body").wait_for()
    assert list(page.evaluate(READ_DRAFT)["answers"]) == ["sharp-edges"]
    show(page, "#/walk/liner")
    wait_settled(page).locator("#ui-all").tap()
    page.locator("#ui-undo").tap()
    page.locator(".part-bar h1", has_text="Liner").wait_for()
    assert list(page.evaluate(READ_DRAFT)["answers"]) == ["sharp-edges"]
    assert page.evaluate("window.pulses") == [[25]] * 4
    show(page, "#/walk/body")
    page.clock.install()
    pass_open(page, "body-joints")
    page.locator("#ui-answered").wait_for()
    key = page.locator("#ui-pass").bounding_box()
    page.clock.fast_forward(8000)
    page.locator("#ui-answered").wait_for(state="detached")
    assert page.locator("#ui-pass").bounding_box() == key, "no button moves under the thumb"


def test_nothing_lies_over_the_title_after_an_answer(inspector):
    page = inspector.page
    inspector.start_stove()
    wait_settled(page).locator("#ui-pass").tap()
    page.locator("#ui-answered").wait_for()
    wait_settled(page)
    assert page.evaluate("""() => {
      const box = document.querySelector(".part-bar h1").getBoundingClientRect();
      const top = document.elementFromPoint(box.left + box.width / 2, box.top + box.height / 2);
      return document.querySelector(".part-bar").contains(top); }""")


def test_vibration_can_be_switched_off(inspector):
    page = inspector.page
    show(page, "#/settings")
    page.locator("#ui-vibrate[aria-pressed=true]").tap()
    page.locator("#ui-vibrate[aria-pressed=false]").wait_for()
    show(page, "#/today")
    page.reload()
    inspector.start_stove()
    wait_settled(page).locator("#ui-pass").tap()
    page.locator("#ui-answered").wait_for()
    assert page.evaluate("window.pulses") == []


def test_reading_in_the_middle_of_typing_is_not_judged(inspector):
    page = inspector.page
    inspector.start_stove()
    go_to(page, "door-opening")
    for keys, says in (("1", "limits"), ("0", "limits"), ("0", "pass"), ("0", "impossible")):
        type_in(page, keys)
        said = page.locator(".says").inner_text()
        wanted = {
            "limits": "97 to 103 mm",
            "pass": word("verdict.pass"),
            "impossible": word("pad.impossible"),
        }[says]
        assert said == wanted
        assert page.locator("#ui-key-ok").is_enabled() == (says == "pass")


@pytest.mark.parametrize(
    ("typed", "offered"), [("106", {"too-wide"}), ("90", {"too-narrow"})], ids=["above", "below"]
)
def test_faults_offered_fit_the_side_of_the_reading(inspector, typed, offered):
    page = inspector.page
    inspector.start_stove()
    go_to(page, "door-opening")
    type_in(page, [*typed, "ok"])
    page.locator("dialog[open]").wait_for()
    shown = page.eval_on_selector_all("[id^=ui-fault-]", "all => all.map((one) => one.id)")
    assert {one.removeprefix("ui-fault-") for one in shown} == offered


def test_load_test_has_a_clock_that_no_tap_skips_unseen(inspector, server):
    page = inspector.page
    serial = inspector.start_stove()
    go_to(page, "legs")
    assert page.locator("#ui-now").get_attribute("data-check") == "leg-load"
    page.clock.install()
    wait_settled(page).locator("#ui-timer").tap()
    page.locator("#ui-timer progress").wait_for()
    page.clock.fast_forward(20_000)
    page.wait_for_function(
        "document.querySelector('#ui-timer output').textContent.startsWith('40')"
    )
    page.clock.resume()
    wait_settled(page).locator("#ui-pass").tap()
    page.locator("#ui-answered").wait_for()
    short = word("given.short", s=20, n=60)
    page.get_by_text(short).wait_for()
    page.locator("#ui-undo").tap()
    wait_settled(page).locator("#ui-timer output").wait_for()
    page.clock.fast_forward(60_000)
    page.get_by_text(word("timer.up", n=60)).wait_for()
    wait_settled(page).locator("#ui-pass").tap()
    page.locator("#ui-answered").wait_for()
    answer = page.evaluate(READ_DRAFT)["answers"]["leg-load"]
    assert answer["given"] == "timed" and answer["timed_s"] >= 80
    assert page.get_by_text(short).count() == 0
    inspector.walk()
    assert page.get_by_role("heading", name=word("review.shortened", n=1)).count() == 0
    assert page.evaluate(READ_DRAFT)["stove"] == serial


def test_no_group_passes_what_can_hurt_someone(inspector):
    page = inspector.page
    inspector.start_stove()
    critical = {one["id"] for one in inspector.compiled["checks"] if one["severity"] == "critical"}
    inspector.walk()
    page.get_by_role("heading", name=word("review.shortened", n=1)).wait_for()
    given = {
        check: answer.get("given") for check, answer in page.evaluate(READ_DRAFT)["answers"].items()
    }
    ticks = {check for check in critical if given.get(check)}
    assert len(ticks) > 5 and {given[check] for check in ticks} == {"single"}
    assert "group" in given.values()
