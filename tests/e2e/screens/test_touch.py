"""Every phone screen as it is rendered: large enough to hit, far enough apart,
readable in both themes, still.
"""

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from qcapp.sync.server_events import record_server_event
from tests.conftest import PHONE
from tests.e2e.app_modules import with_modules
from tests.e2e.holes_camera import visit_holes
from tests.e2e.inspector import Inspector, wait_settled
from tests.e2e.inspector import show as open_screen
from tests.e2e.phone_words import word
from tests.e2e.server import read_checklist
from tests.inspection.test_gauges import TERMS

SMALLEST_TARGET_PX, JUDGE_TARGET_PX, MIN_GAP_PX = 48, 64, 8
MIN_CONTRAST = 7
THEMES = ("light", "dark")
READING = (Path(__file__).parent / "reading.js").read_text(encoding="utf-8")
PARTS = ("body", "door-opening", "grate", "pot-rests")
# Those of the open inspection first: on any other screen it is paused.
PLAIN = (
    "parts",
    "review",
    "today",
    "next",
    "find",
    "scan",
    "rework",
    "mine",
    "who",
    "pin/I01",
    "settings",
    "export",
    "practice",
    "join",
    "first",
    "gauges",
)


@pytest.fixture
def phone(server, chromium):
    """Joined, a stove with a critical fault saved, another one begun."""
    context = chromium.new_context(**PHONE)
    page = context.new_page()
    page.add_init_script(READING)
    record_gauge(server)
    inspector = Inspector(page, read_checklist(server, "finished-stove"))
    inspector.join(server.address, server.make_code())
    yield inspector
    context.close()


def record_gauge(server):
    """A template that was never checked, so that it is late."""
    store, ago = server.open_store(), datetime.now(UTC) - timedelta(days=40)
    record_server_event(store, kind="gauge", recorder="lead", body=TERMS, now=ago)
    store.close()


def show(page, route):
    open_screen(page, route)
    page.wait_for_timeout(50)


def list_screens(checkout):
    """Names of all screens that an address can show: todayScreen is today."""
    text = "".join(
        path.read_text(encoding="utf-8")
        for path in (checkout / "static" / "phone" / "js" / "screens").glob("*.js")
    )
    return set(re.findall(r"export (?:async )?function (\w+)Screen\(", text))


def inspection(phone):
    """Yields the name of each screen while it shows, sheets and notices among them."""
    page = phone.page
    serial = phone.start_stove()
    wait_settled(page)
    page.locator("#ui-fail").tap()
    page.locator("dialog[open]").wait_for()
    yield "walk: fault"
    page.locator("dialog [id^=ui-fault-]").first.tap()
    page.locator("#ui-done").tap()
    yield from visit_walk(page)
    show(page, "#/review")
    page.locator("#ui-disposition-hold").tap()
    page.locator("#ui-reason").fill("too cold")
    page.locator("#ui-save").tap()
    page.get_by_role("heading", name=word("saved.title")).wait_for()
    yield "saved"
    show(page, f"#/stove/{phone.compiled['stage']}%2F{serial}")
    page.get_by_text(word("stove.void")).tap()
    yield "stove"
    phone.page.evaluate("location.hash = '#/today'")
    phone.start_stove()
    yield from visit_holes(page, f"#/holes/{phone.compiled['steps'][0]['id']}")
    for route in PLAIN:
        show(page, f"#/{route}")
        yield route.split("/")[0]
    page.locator("button.row", has_text=TERMS["name"]).tap()
    page.locator(".gauge").wait_for()
    yield "gauge"
    yield from visit_notices(page)


def visit_walk(page):
    for part in PARTS:
        show(page, f"#/walk/{part}")
        yield f"walk: {part}"
        if page.locator("#ui-how").count():
            page.locator("#ui-how").tap()
            page.locator(".how:not(.one-line)").wait_for()
            yield f"walk: {part}, how"
    show(page, "#/walk/door-opening")
    for key in ("9", "7", "ok"):
        page.locator(f"#ui-key-{key}").tap()
    page.locator("dialog[open]").wait_for()
    yield "walk: twice"
    page.get_by_role("button", name=word("second_reading.go")).tap()
    page.locator("#ui-key-9").tap()
    yield "walk: second reading"


def visit_notices(page):
    """Pages that no address shows; made by the app's own functions."""
    for call in (
        "notSavedNotice({error: new DOMException('', 'QuotaExceededError')})",
        "lossNotice({lost: 2, last_saved_at: null}, () => {})",
        "insecureNotice()",
        "installNotice('ABCD2345')",
        "brokenNotice(new Error('x'))",
    ):
        page.evaluate(
            with_modules(f"""async () => {{
          const notices = await load('screens/notices.js');
          document.querySelector('#screen').replaceChildren(notices.{call});
          document.querySelector('#ui-warning').textContent = 'The last tap was not kept';
        }}""")
        )
        yield call.split("(")[0]


def test_targets_fit_a_thumb_and_texts_are_readable_on_every_screen(phone, checkout):
    page, seen, texts = phone.page, set(), 0
    for name in inspection(phone):
        seen.add(name.split(":")[0])
        targets = page.evaluate("reading.readTargets()")
        assert [
            one
            for one in targets
            if min(one[1:3]) < (JUDGE_TARGET_PX if one[3] else SMALLEST_TARGET_PX) - 0.01
        ] == [], name
        assert page.evaluate("least => reading.readCrowded(least)", MIN_GAP_PX) == [], name
        assert page.evaluate("reading.readUnlikeDisabled()") == [], name
        assert page.evaluate("reading.readMoving()") == [], (
            f"{name}: reduced motion has nothing to take away"
        )
        for theme in THEMES:
            page.emulate_media(color_scheme=theme)
            contrasts = page.evaluate("reading.readContrasts()")
            texts += len(contrasts)
            assert [one for one in contrasts if one[1] < MIN_CONTRAST] == [], f"{name}, {theme}"
    assert list_screens(checkout) - seen == {"study"}, (
        "the study's screen is a list of buttons; test_looks walks it"
    )
    assert texts > 400


def test_themes_differ_and_the_sun_has_the_light_one_by_default(phone):
    grounds = []
    for theme in ("no-preference", *THEMES):
        phone.page.emulate_media(color_scheme=theme)
        grounds.append(phone.page.evaluate("getComputedStyle(document.body).backgroundColor"))
    assert grounds[0] == grounds[1] != grounds[2]


@pytest.mark.parametrize("part", PARTS)
def test_held_across_every_button_of_the_thumb_is_in_sight(phone, part):
    page = phone.page
    page.set_viewport_size({"width": 640, "height": 360})
    phone.start_stove()
    show(page, f"#/walk/{part}")
    for is_asked in (False, True):
        if is_asked:
            page.locator("#ui-how").tap()
            page.locator(".how:not(.one-line)").wait_for()
        dock = page.eval_on_selector_all(
            ".dock button",
            """all => all.map((one) => one.getBoundingClientRect())
          .map(({left, top, right, bottom}) => [left, top, right, bottom])""",
        )
        assert dock and all(
            left >= 0 and top >= 0 and right <= 640 and bottom <= 360
            for left, top, right, bottom in dock
        )
        ask = page.locator("#ui-now").bounding_box()
        assert ask["y"] < 200 and page.evaluate("document.documentElement.scrollWidth") <= 640
        # What shows is what a tap hits: nothing lies over a button.
        assert (
            page.eval_on_selector_all(
                ".dock button",
                """all => all.filter((one) => {
          const {left, top, width, height} = one.getBoundingClientRect();
          return !one.contains(document.elementFromPoint(left + width / 2, top + height / 2));
        }).map((one) => one.id)""",
            )
            == []
        )
