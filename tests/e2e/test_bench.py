"""At the bench, without signal: a first piece that is to be set right, a gauge that is late, and the
lesson one tap from the fault. Later all of it is sent.
"""

from datetime import UTC, datetime, timedelta

from qcapp.sync.server_events import record_server_event
from qcapp.usecases.fill_demo import give_to_artisan
from qcapp.usecases.keep_lesson_parts import add_picture, put_voice
from tests.conftest import CHROMIUM_FLAGS, get_chromium_path
from tests.e2e.app_modules import wait_for_answer, with_modules
from tests.e2e.inspector import wait_unsent
from tests.inspection.test_gauges import TERMS
from tests.web.test_lesson_parts import SVG, WEBM

STEP = "cut-door-opening"


def prepare(server):
    """A template that was never checked, for the step; a lesson of the step."""
    store, now = server.open_store(), datetime.now(UTC)
    ago = now - timedelta(days=40)
    record_server_event(store, kind="gauge", recorder="lead", body=TERMS, now=ago)
    add_picture(store, STEP, SVG, "Cut inside the line", by="lead", now=now)
    put_voice(store, STEP, WEBM, by="lead", now=now)
    store.close()


def type_value(page, text):
    for character in text:
        page.locator("#ui-key-mark" if character == "." else f"#ui-key-{character}").tap()
    page.locator("#ui-key-ok:enabled").tap()


HAS_LESSON = with_modules("""async () => {
  const {withStores, ask} = await load('store/db.js');
  const keys = await withStores(["reference"], "readonly",
    ({reference}) => ask(reference.getAllKeys()));
  return keys.some((key) => key.startsWith("lesson/"));
}""")


def wait_kept_pictures(page):
    wait_for_answer(page, HAS_LESSON)


def test_first_piece_gauge_and_lesson_without_signal(server, join_phone):
    prepare(server)
    page = join_phone().page
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    wait_kept_pictures(page)
    page.context.set_offline(True)
    # The first piece of the day: its critical and measured checks only.
    first = page.locator("#ui-first button").first
    assert "to check today" in first.inner_text()
    first.tap()
    page.locator("#ui-now[data-check='door-opening-width'] .late").wait_for()
    type_value(page, "104")
    page.locator("dialog[open] [role=alert]", has_text="Stop and set right").wait_for()
    # The lesson is one tap away, with its picture; the voice note needs signal.
    page.locator("#ui-lesson summary").tap()
    page.locator("#ui-lesson img[src^='blob:']").wait_for()
    page.wait_for_function("document.querySelector('#ui-lesson img').naturalWidth > 0")
    page.locator("#ui-listen").tap()
    page.locator("#ui-lesson [role=alert]", has_text="no signal").wait_for()
    page.locator("#ui-done:enabled").tap()
    type_rest(page)
    page.locator("#ui-save").tap()
    page.locator(".saved [role=alert]", has_text="Stop and set right").wait_for()
    page.locator("#ui-today").tap()
    page.locator("#ui-first button", has_text="stop and set right").wait_for()
    # The template is checked against its master piece.
    page.locator("a[href='#/gauges']").first.tap()
    page.locator("button.row", has_text="Door template 2").tap()
    page.locator(".gauge .strong", has_text="steel master, 100 mm").wait_for()
    type_value(page, "100.9")
    page.locator(".gauge [role=alert]", has_text="Do not use it").wait_for()
    type_value(page, "100.2")
    page.locator("button.row", has_text="good; next check").wait_for()
    page.context.set_offline(False)
    page.locator("a.back").tap()
    wait_unsent(page, 0)
    hear_voice(page)
    checks = [event["body"] for event in server.list_events("gauge_check")]
    assert [(one["value"], one["verdict"]) for one in checks] == [
        ("100.9", "fail"),
        ("100.2", "pass"),
    ]
    (piece,) = server.list_events("first_piece")
    assert piece["stove"] is None and piece["body"]["is_good"] is False
    assert (piece["body"]["maker"], piece["body"]["reason"]) == ("A01", "day")
    asked = {"door-opening-width", "door-opening-height", "door-opening-edges"}
    assert asked & set(piece["body"]["verdicts"]) == set(piece["body"]["verdicts"])


def type_rest(page):
    """What is left of the first piece."""
    for _ in range(10):
        page.locator(".walk .dock, #ui-save").first.wait_for()
        if page.locator("#ui-save").count():
            return
        before = page.locator("#screen").inner_html()
        if page.locator("#ui-key-7").count():
            type_value(page, "70")
        else:
            page.locator("#ui-pass, .dock button.go").first.tap()
        page.wait_for_function(
            "before => document.querySelector('#screen').innerHTML !== before", arg=before
        )


def hear_voice(page):
    """With signal it comes when it is chosen."""
    page.locator("#ui-first button").first.tap()
    page.locator("#ui-now[data-check='door-opening-width']").wait_for()
    type_value(page, "104")
    page.locator("#ui-lesson summary").tap()
    page.locator("#ui-listen").tap()
    page.locator("#ui-lesson audio[src^='blob:']").wait_for()


FAKE_MICROPHONE = ("--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream")
PLAY = """async (audio) => { audio.muted = true; await audio.play();
  return new Promise((done) => { audio.ontimeupdate = () => audio.currentTime > 0 && done(true); }); }"""


def test_trainer_records_a_voice_note_and_the_artisans_card_plays_it(playwright, demo):
    browser = playwright.chromium.launch(
        executable_path=get_chromium_path(), args=[*CHROMIUM_FLAGS, *FAKE_MICROPHONE]
    )
    context = browser.new_context(permissions=["microphone"])
    demo.sign_in(context)
    page = context.new_page()
    store = demo.open_store()
    address = give_to_artisan(store, demo.settings, datetime.now(UTC))
    page.goto(f"{demo.address}/c/{address}")
    title = page.locator(".own-aim .own-step").inner_text()
    page.goto(f"{demo.address}/trainer")
    page.get_by_role("link", name=title, exact=True).first.click()
    page.locator("summary", has_text="How it is done right").click()
    page.locator("summary", has_text="Add pictures or a voice note").click()
    form = page.locator("form[data-record]")
    form.get_by_role("button", name="Record", exact=True).click()
    form.get_by_role("button", name="Stop").click(delay=1200)
    form.locator("audio[src^='blob:']").wait_for()
    assert form.locator("audio").evaluate(PLAY)
    form.get_by_role("button", name="Save the voice note").click()
    kept = page.locator("audio[src^='/lesson-media/']")
    kept.wait_for()
    assert kept.evaluate(PLAY)
    page.goto(f"{demo.address}/c/{address}")
    assert page.locator("audio").evaluate(PLAY)
    # As other tests know the demo.
    page.go_back()
    page.get_by_role("button", name="Delete the voice note").click()
    kept.wait_for(state="detached")
    browser.close()
    store.close()
