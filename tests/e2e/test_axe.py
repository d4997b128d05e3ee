"""What a screen reader, a keyboard and weak eyes need,
looked for by axe on every page and every phone screen.
"""

import json
import re
from collections import deque
from datetime import UTC, datetime
from pathlib import Path
from urllib.parse import urlencode, urljoin, urlsplit

import axe_playwright_python
import pytest

from qcapp.access.devices import join_device
from qcapp.checklist.model import Checklist
from qcapp.store.registry.checklists import get_current_checklist
from qcapp.usecases.fill_demo import give_to_artisan, give_to_buyer
from tests.builders import Phone, build_push, build_small_checklist
from tests.conftest import CHECKOUT, PHONE
from tests.e2e.holes_camera import visit_holes
from tests.e2e.inspector import Inspector, wait_settled
from tests.e2e.server import LaptopServer, read_checklist
from tests.i18n.filled import add_offered_checklist
from tests.routes import RULES, find

AXE = Path(axe_playwright_python.__path__[0]) / "axe.min.js"
# All of WCAG 2.2 A and AA, what axe calls good practice, and contrast of 7:1 instead of 4.5:1.
WISH = {
    "runOnly": {
        "type": "tag",
        "values": [
            "wcag2a",
            "wcag2aa",
            "wcag21a",
            "wcag21aa",
            "wcag22aa",
            "best-practice",
            "wcag2aaa",
        ],
    },
    "rules": {
        "color-contrast": {"enabled": False},
        "color-contrast-enhanced": {"enabled": True},
        "target-size": {"enabled": True},
    },
    "resultTypes": ["violations"],
}
# The slowest rule by far; colours are the same in every language.
WITHOUT_CONTRAST = {
    **WISH,
    "rules": {**WISH["rules"], "color-contrast-enhanced": {"enabled": False}},
}
# Eight screens of a phone of 640 px: who looks for something further down does not know that it is
# there. What is longer says its finding in a line and unfolds, or has a page of its own.
MAX_HEIGHT = 8 * 640
# Addresses that may be higher, by how they begin.
HIGHER = {
    # A handbook, read from top to bottom; its contents are the first thing on it.
    r"/guide": 40 * 640,
    # Typed in line by line beside the paper sheet, every cell of which must be in reach.
    r"/yard/entry": 20 * 640,
    # A buyer accepts or refuses all of it: cautions, claims and files stand unfolded.
    r"/s/[^/]+$|/batches/[^/]+/summaries/": 11 * 640,
}
# Days, serials and codes of batches that stand on two lines. A digest or an id of a record, longer
# than these, may.
LIST_BROKEN = r"""() => {
  const CODE =
    /(?<![\p{L}\d\/\\.-])(?:[\p{L}\d]+(?:-[\p{L}\d]+)+|\d\d\/\d\d\/\d{4})(?![\p{L}\d\/\\-])/gu;
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  const broken = [];
  while (walk.nextNode()) {
    const text = walk.currentNode.data;
    for (const found of text.matchAll(CODE)) {
      if (found[0].length > 24 || !/\d/.test(found[0])) continue;
      const range = document.createRange();
      range.setStart(walk.currentNode, found.index);
      range.setEnd(walk.currentNode, found.index + found[0].length);
      const tops = [...range.getClientRects()].filter((box) => box.width).map((box) => box.top);
      if (tops.length && Math.max(...tops) - Math.min(...tops) > 3) broken.push(found[0]);
    }
  }
  return broken;
}"""
# Sentences of which a marked code and the words beside it became columns: laid out as items.
LIST_TORN = """() => [...document.querySelectorAll(".whole")].map((one) => one.parentElement).filter(
  (one) => /flex|grid/.test(getComputedStyle(one).display)
    && [...one.childNodes].some((node) => node.nodeType === 3 && node.data.trim())
).map((one) => one.textContent.trim())"""
LANGUAGES = ("en", "fr", "pt")
# A form leads to the last one, no link.
BEGUN = ("/", "/batches/B1", "/yard/accounts", "/account", "/stoves?serial=B5-003")
# No page: files, calls of programs, what a phone or a stranger opens; what follows a button on the
# laptop itself, which has a test of its own below.
NO_PAGE = re.compile(
    r"^/(api|static|phone|sw\.js|manifest|photos|lesson-media|guide/pictures|s|c|welcome|sign-in"
    r"|laptop/\w+)\b|\.(csv|xlsx|pdf|json|yaml)$"
)
PHONE_SCREENS = (
    "today",
    "next",
    "find",
    "rework",
    "mine",
    "who",
    "settings",
    "export",
    "practice",
    "gauges",
    "first",
)
# Screens of the stove in hand: left for any other, it is paused.
SCREENS_OF_THE_STOVE = ("parts", "review")


@pytest.fixture(scope="module")
def filled(chromium, demo):
    """The demo with one more of each thing that has a page: a summary, a study,
    records held back, one of them by a checklist that the yard does not know.
    """
    context = chromium.new_context()
    demo.sign_in(context)
    headers = {"Origin": demo.address}
    study = {
        "data": urlencode(list_study_fields()),
        "headers": {**headers, "Content-Type": "application/x-www-form-urlencoded"},
    }
    for address, more in (
        ("/api/sync/push", make_push(demo)),
        ("/yard/studies", study),
        ("/batches/B1/summaries", {"headers": headers}),
    ):
        answer = context.request.post(demo.address + address, **more)
        assert answer.ok, (address, answer.status, answer.text()[:500])
    context.close()
    return demo


def make_push(demo) -> dict:
    """Two records of a phone that joined: of a stove of no batch, and by a checklist that asks less
    than the yard's own, which the phone brings along.
    """
    phone = Phone(build_small_checklist())
    store = demo.open_store()
    add_offered_checklist(store)
    joined = join_device(
        store, code=demo.make_code(), device_id=phone.device_id, now=datetime.now(UTC)
    )
    with store.reading() as connection:
        own = get_current_checklist(connection, "finished-stove").compiled()
    store.close()
    easier = Checklist.from_compiled({**own, "revision": 99, "checks": own["checks"][1:]})
    body = {**phone.inspect("X-2")["body"], "answers": {}, "verdicts": {}}
    brought = Phone(easier, numbers=phone.numbers).seal("inspection", "B6-001", body, batch="B6")
    records = [phone.inspect("X-1"), brought]
    return {
        "data": build_push(records, definitions=[easier.compiled()]),
        "headers": {"Authorization": f"Bearer {joined.token}"},
    }


def list_study_fields() -> list[tuple[str, str]]:
    return [
        ("title", "Door"),
        ("checklist", "finished-stove"),
        ("batch", "B6"),
        ("stoves", "B6-001 B6-002"),
        ("checks", "leg-rock"),
        ("inspectors", "I01"),
        ("inspectors", "I02"),
        ("repeats", "2"),
    ]


@pytest.fixture(scope="module")
def axe_script():
    return AXE.read_text(encoding="utf-8")


def test_axe_finds_what_is_wrong(chromium, axe_script):
    """Else the silence of the other tests would prove nothing."""
    page = chromium.new_page()
    page.set_content(
        "<html><body><button></button><p style='color:#666;background:#fff'>pale</p></body></html>"
    )
    rules = {fault.partition(":")[0] for fault in find_faults(page, axe_script)}
    page.close()
    assert {"button-name", "color-contrast-enhanced", "html-has-lang"} <= rules


def find_faults(page, axe_script, language="en") -> list[str]:
    """What axe finds on the page as it stands: rule, place, why."""
    page.evaluate(axe_script)
    wish = WISH if language == LANGUAGES[0] else WITHOUT_CONTRAST
    found = page.evaluate("wish => axe.run(document, wish)", wish)
    return [
        f"{one['id']}: {node['html'][:120]}: {json.dumps(node['failureSummary'])[:300]}"
        for one in found["violations"]
        for node in one["nodes"]
    ]


def find_highest(page) -> int:
    """How many px high this page may be: other languages need up to a fifth more room."""
    path = urlsplit(page.url).path
    limit = next((high for start, high in HIGHER.items() if re.match(start, path)), MAX_HEIGHT)
    return limit if page.evaluate("document.documentElement.lang") == "en" else limit * 6 // 5


def find_misfits_on_a_phone(page) -> list[str]:
    """What does not fit a phone of 360 x 640: a head that takes more than a sixth of the screen, a
    page higher than its limit as it opens; unfolded, and it stays so, a page that scrolls
    sideways, a day or a code on two lines.
    """
    wide = page.viewport_size
    page.set_viewport_size({"width": 360, "height": 640})
    head, height = page.evaluate(
        "[document.querySelector('header').offsetHeight, document.documentElement.scrollHeight]"
    )
    highest = find_highest(page)
    page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    width = page.evaluate("document.documentElement.scrollWidth")
    broken = page.evaluate(LIST_BROKEN)
    torn = page.evaluate(LIST_TORN)
    page.set_viewport_size(wide)
    return (
        [f"{width} px wide"] * (width > 360)
        + [f"head of {head} px"] * (head > 107)
        + [f"on two lines: {text}" for text in broken]
        + [f"{height} px high, more than {highest}"] * (height > highest)
        + [f"words beside it in columns of their own: {text}" for text in torn]
    )


def test_a_code_on_two_lines_is_found(chromium):
    page = chromium.new_page()
    page.set_content(
        "<p style='width: 3em'>since 2026-11-28, <b style='white-space: nowrap'>B5-063</b></p>"
    )
    assert page.evaluate(LIST_BROKEN) == ["2026-11-28"]
    page.set_content("<p style='width: 3em; white-space: nowrap'>since 2026-11-28</p>")
    assert page.evaluate(LIST_BROKEN) == []
    page.set_content("<p style='display: flex'>since <span class='whole'>2026-11-28</span></p>")
    assert page.evaluate(LIST_TORN) == ["since 2026-11-28"]
    page.close()


def test_what_is_folded_on_the_screen_stands_on_paper(chromium):
    page = chromium.new_page()
    page.set_content(
        "<details class='fold'><summary>Found</summary><p>figures</p></details>"
        "<details><summary>How to read it</summary><p>words</p></details>"
    )
    page.add_style_tag(path=CHECKOUT / "static" / "pages" / "pages.css")
    shown = "[...document.querySelectorAll('p')].map((one) => one.checkVisibility())"
    assert page.evaluate(shown) == [False, False]
    page.emulate_media(media="print")
    assert page.evaluate(shown) == [True, False]
    page.close()


@pytest.mark.parametrize("language", LANGUAGES)
def test_axe_finds_nothing_on_any_page_and_each_fits_a_phone(
    chromium, filled, axe_script, language
):
    """From the start page along every link, one address for each route."""
    context = chromium.new_context(viewport={"width": 1000, "height": 800}, locale=language)
    demo = filled
    demo.sign_in(context)
    page = context.new_page()
    waiting, seen, faults = deque(BEGUN), {}, {}
    while waiting:
        address = waiting.popleft()
        rule = find("GET", urlsplit(address).path)
        if rule is None or rule.path in seen or NO_PAGE.search(rule.path):
            continue
        page.goto(demo.address + address)
        seen[rule.path] = address
        faults[address] = find_misfits_on_a_phone(page) + find_faults(page, axe_script, language)
        links = page.eval_on_selector_all(
            "a[href]", "links => links.map((link) => link.getAttribute('href'))"
        )
        waiting.extend(
            urljoin(address, link)
            for link in links
            if not link.startswith(("http", "#", "mailto:"))
        )
    context.close()
    missed = {
        rule.path for rule in RULES if rule.method == "GET" and not NO_PAGE.search(rule.path)
    } - set(seen)
    assert not {address: found for address, found in faults.items() if found}
    assert not missed, "no link leads there"


@pytest.mark.parametrize("language", LANGUAGES)
def test_axe_finds_nothing_on_what_strangers_buyers_and_artisans_open_and_each_fits_a_phone(
    chromium, demo, axe_script, language
):
    store = demo.open_store()
    token = give_to_buyer(store, demo.settings, datetime.now(UTC))
    card = give_to_artisan(store, demo.settings, datetime.now(UTC))
    store.close()
    context = chromium.new_context(viewport={"width": 390, "height": 800}, locale=language)
    page, faults = context.new_page(), {}
    for address in (
        "/sign-in",
        "/welcome/nothing",
        f"/s/{token}",
        f"/s/{token}/recheck",
        f"/s/{token}/verify",
        "/s/nothing",
        f"/c/{card}",
        "/c/nothing",
        "/nowhere",
    ):
        page.goto(demo.address + address)
        faults[address] = find_misfits_on_a_phone(page) + find_faults(page, axe_script, language)
    context.close()
    assert not {address: found for address, found in faults.items() if found}


def test_axe_finds_nothing_in_the_guide_and_no_page_of_it_scrolls_sideways(
    chromium, demo, axe_script
):
    context = chromium.new_context(viewport={"width": 320, "height": 640}, locale="en")
    page, faults, wide = context.new_page(), {}, []
    for path in sorted((CHECKOUT / "static" / "guide").glob("*.md")):
        name, _, language = path.stem.partition(".")
        address = "/guide" if name == "index" else f"/guide/{name}"
        address += f"?language={language or 'en'}"
        page.goto(demo.address + address)
        page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true })")
        faults[address] = find_faults(page, axe_script)
        root = "document.documentElement"
        if page.evaluate(f"{root}.scrollWidth > {root}.clientWidth"):
            wide.append(address)
    context.close()
    assert {"/guide/inspector?language=en", "/guide/keeping?language=fr"} <= set(faults)
    assert not {address: found for address, found in faults.items() if found}
    assert not wide


def test_axe_finds_nothing_on_the_laptops_own_pages_and_none_scrolls_sideways(
    chromium, axe_script, tmp_path
):
    context = chromium.new_context(viewport={"width": 360, "height": 640}, locale="en")
    page, faults, wide = context.new_page(), {}, []

    def look(name: str) -> None:
        faults[name] = find_faults(page, axe_script)
        root = "document.documentElement"
        if page.evaluate(f"{root}.scrollWidth > {root}.clientWidth"):
            wide.append(name)

    with LaptopServer(tmp_path) as laptop:
        page.goto(f"{laptop.address}/laptop/first")
        look("first")
        laptop.sign_in(context)
        page.goto(f"{laptop.address}/laptop")
        page.get_by_role("heading", name="Phones reach it").wait_for()
        look("laptop")
        page.locator("#typed-place").fill(str(tmp_path))
        page.get_by_role("button", name="Make the backup").click()
        page.get_by_role("status").wait_for()
        look("after the backup")
        page.get_by_role("button", name="Look what is in it").click()
        page.get_by_role("heading", name="Restore this backup?").wait_for()
        look("restore")
    context.close()
    assert len(faults) == 4 and not {name: found for name, found in faults.items() if found}
    assert not wide


# What differs by language are words, by colours only colours: no need for each with each.
@pytest.mark.parametrize(
    ("language", "colours"), [("en", "dark"), *((language, "light") for language in LANGUAGES)]
)
def test_axe_finds_nothing_on_any_screen_of_the_phone(
    chromium, demo, axe_script, language, colours
):
    context = chromium.new_context(**PHONE | {"color_scheme": colours, "locale": language})
    page, faults = context.new_page(), {}

    def look(name: str) -> None:
        wait_settled(page)
        page.wait_for_timeout(300)
        faults[name] = find_faults(page, axe_script, language)

    page.goto(f"{demo.address}/phone/")
    page.locator("h1").wait_for()
    look("join")
    inspector = Inspector(page, read_checklist(demo, "finished-stove"), language=language)
    inspector.join(demo.address, demo.make_code(), name="Rasheni Vold")
    inspector.start_stove()
    shown = set()
    while not page.locator("#ui-save").count():
        kind = inspector.find_open()["kind"]
        if kind not in shown:
            shown.add(kind)
            look(f"walk: {kind}")
            page.locator("#ui-more").tap()
            look(f"sheet: {kind}")
            page.keyboard.press("Escape")
            page.locator("dialog").wait_for(state="detached")
        inspector.answer({})
    for name in SCREENS_OF_THE_STOVE:
        page.evaluate("name => { location.hash = `#/${name}`; }", name)
        look(name)
    # The longest words and the other colours are enough for so many states.
    if language == "fr" or colours == "dark":
        for name in visit_holes(page, f"#/holes/{inspector.compiled['steps'][0]['id']}"):
            look(name)
        page.evaluate("location.hash = '#/review'")
        page.locator("#ui-save").wait_for()
    inspector.save()
    look("saved")
    for name in PHONE_SCREENS:
        page.evaluate("name => { location.hash = `#/${name}`; }", name)
        look(name)
    context.close()
    assert {"tick", "measure"} <= shown
    assert not {name: found for name, found in faults.items() if found}
