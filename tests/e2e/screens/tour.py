"""Round every screen of the phone without reading a word of it, and what of a screen is cut off.

Shows each screen in turn and gives its name; the caller looks at the page in between.
"""

from collections.abc import Collection, Iterator
from urllib.parse import urlencode

from playwright.sync_api import Page

from qcapp.store.registry.people import save_people
from tests.e2e.inspector import Inspector, wait_settled
from tests.e2e.inspector import show as open_screen
from tests.e2e.server import YardServer

SECOND = {"code": "I02", "name": "Gila", "trades": [], "started_on": None, "is_inspector": True}
LOST = '{"device_id": "x", "created": 5, "acked": 2, "last_saved_at": "2026-11-05T10:00:00Z"}'
# Text outside the window, outside a box that hides what is beyond it, or outside the button that it
# is the words of.
FIND_CUT = """() => {
  const found = [];
  const isSeen = (parent) =>
    !parent.closest('noscript, svg') && parent.checkVisibility({ opacityProperty: true });
  const isBeyond = (box, edge) =>
    box.left < edge.left - 1 || box.right > edge.right + 1 ||
    box.top < edge.top - 3 || box.bottom > edge.bottom + 3;
  const isCrammed = (box) =>
    box.scrollWidth > box.clientWidth + 1 && getComputedStyle(box).display !== 'inline';
  const note = (why, node) => found.push(`${why}: ${node.textContent.trim().slice(0, 60)}`);
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const node = walker.currentNode;
    const parent = node.parentElement;
    if (!node.textContent.trim() || !isSeen(parent)) continue;
    const range = document.createRange();
    range.selectNodeContents(node);
    for (const box of range.getClientRects()) {
      if (box.left < -0.5 || box.right > innerWidth + 0.5) note('outside the window', node);
      const button = parent.closest('button, a, .chip, label.plain');
      if (button && isBeyond(box, button.getBoundingClientRect())) note('outside its button', node);
    }
    for (let box = parent; box; box = box.parentElement) {
      if (isCrammed(box)) note(`wider than <${box.tagName} ${box.className}>`, node);
    }
  }
  if (document.documentElement.scrollWidth > innerWidth) found.push('the page scrolls sideways');
  return [...new Set(found)];
}"""

# Words that go on in the next line in their middle.
FIND_BROKEN = """() => {
  const found = [];
  const walker = document.createTreeWalker(document.querySelector('#screen'), NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const node = walker.currentNode;
    if (!node.parentElement.checkVisibility() || node.parentElement.closest('svg')) continue;
    for (const { 0: word, index } of node.textContent.matchAll(/[\\p{L}\\p{N}]+/gu)) {
      const range = document.createRange();
      range.setStart(node, index);
      range.setEnd(node, index + word.length);
      if (new Set([...range.getClientRects()].map(({ top }) => Math.round(top))).size > 1) found.push(word);
    }
  }
  return found;
}"""


def show(page: Page, route: str) -> None:
    open_screen(page, route)
    # A screen is painted when what it reads has come.
    page.wait_for_timeout(150)


def tour(inspector: Inspector, server: YardServer) -> Iterator[str]:
    """From a phone that has not joined to a stove in rework; the inspector is Ciro."""
    page = inspector.page
    page.goto(f"{server.address}/phone/")
    page.locator("#ui-code").fill("WRONG")
    page.locator(".go").tap()
    page.locator(".note:not(:empty)").wait_for()
    yield "join"
    page.goto(f"{server.address}/phone/#join={server.make_code()}")
    page.locator(".go").tap()
    page.get_by_role("button", name="Ciro").wait_for()
    yield "who"
    page.get_by_role("button", name="Ciro").tap()
    page.locator(".dock .go").wait_for()
    yield "today"
    yield from _tour_pin(page)
    yield from _tour_walk(inspector)
    yield from _tour_records(inspector, server)


def _tour_pin(page: Page) -> Iterator[str]:
    show(page, "#/pin/I01")
    yield "new pin"
    page.locator("#ui-code").fill("1234")
    page.locator(".go").tap()
    page.locator(".dock .go:not([form])").wait_for()
    show(page, "#/pin/I01")
    page.locator("summary").tap()
    yield "pin"
    show(page, "#/who")
    yield "who with pin"


def _tour_walk(inspector: Inspector) -> Iterator[str]:
    page = inspector.page
    show(page, "#/next")
    page.locator("#ui-serial").fill(" ")
    page.locator(".go").tap()
    page.locator(".note").wait_for()
    yield "next"
    page.locator("#ui-serial").fill("B1-001")
    page.locator(".go").tap()
    page.locator(".walk").wait_for()
    for part in [part["id"] for part in inspector.compiled["parts"]]:
        show(page, f"#/walk/{part}")
        if page.locator("#ui-how").count():
            page.locator("#ui-how").tap()
        wait_settled(page)
        yield f"part {part}"
    show(page, "#/parts")
    page.locator("summary").tap()
    yield "parts"
    yield from _tour_sheets(inspector)


def _tour_sheets(inspector: Inspector) -> Iterator[str]:
    page = inspector.page
    show(page, "#/walk/door-opening")
    for key in ("9", "7"):
        page.locator(f"#ui-key-{key}").tap()
    yield "pad"
    page.locator("#ui-key-ok").tap()
    page.locator("dialog[open]").wait_for()
    yield "twice"
    page.locator("dialog .go").tap()
    for key in ("9", "9", "ok"):
        page.locator(f"#ui-key-{key}").tap()
    wait_settled(page).locator("#ui-more").tap()
    page.locator("dialog[open]").wait_for()
    yield "more"
    page.locator("#ui-done").tap()
    page.locator("dialog[open]").wait_for(state="detached")
    show(page, "#/walk/body")
    wait_settled(page).locator("#ui-fail").tap()
    page.locator("dialog[open]").wait_for()
    yield "fault"
    show(page, "#/review")
    page.locator("#ui-save").tap()
    page.locator(".dock .note:not(:empty)").wait_for()
    yield "review with gaps"


def plan_study(page: Page, server: YardServer, title: str, checks: Collection[str]) -> None:
    """As the lead does: two stoves, looked at once by each of two inspectors."""
    form = {
        "title": title,
        "checklist": "finished-stove",
        "batch": "B1",
        "stoves": "B1-001 B1-002",
        "repeats": "1",
        "inspectors": ["I01", "I02"],
        "checks": sorted(checks),
    }
    server.sign_in(page.context)
    answer = page.request.post(
        f"{server.address}/yard/studies",
        data=urlencode(form, doseq=True),
        headers={"Content-Type": "application/x-www-form-urlencoded", "Origin": server.address},
        max_redirects=0,
    )
    assert answer.status == 303


FILL_DISK = """() => {
  window.kept = IDBObjectStore.prototype.add;
  IDBObjectStore.prototype.add = () => {
    throw new DOMException("disk full", "QuotaExceededError");
  };
}"""
CLEAR_DISK = "() => { IDBObjectStore.prototype.add = window.kept; }"


def _tour_records(inspector: Inspector, server: YardServer) -> Iterator[str]:
    page = inspector.page
    show(page, "#/walk/body")
    inspector.walk({"sharp-edges": "fail"})
    page.locator("#ui-disposition-rework").tap()
    yield "review"
    page.evaluate(FILL_DISK)
    page.locator("#ui-save").tap()
    page.locator(".alarm").wait_for()
    yield "not saved"
    page.evaluate(CLEAR_DISK)
    page.locator(".alarm .go").tap()
    page.locator(".saved").wait_for()
    yield "saved"
    for name in ("rework", "mine", "settings", "export", "stove/finished%2FB1-001"):
        show(page, f"#/{name}")
        if name.startswith("stove"):
            page.locator("summary").tap()
        yield name
    yield from _tour_rest(inspector, server)


def _tour_rest(inspector: Inspector, server: YardServer) -> Iterator[str]:
    page = inspector.page
    store = server.open_store()
    with store.writing() as connection:
        save_people(connection, [SECOND])
    store.close()
    plan_study(page, server, "Legs", {"leg-rock"})
    show(page, "#/today")
    page.reload()
    page.locator("a[href^='#/study/']").first.wait_for()
    yield "today with a study"
    page.locator("a[href^='#/study/']").first.tap()
    page.locator(".content .plain").wait_for()
    yield "study"
    page.evaluate("lost => localStorage.setItem('qcapp.counts', lost)", LOST)
    page.reload()
    page.locator(".alarm").wait_for()
    yield "loss"
    for name, script in (
        ("broken", "indexedDB.open = () => { throw new Error('no room'); }"),
        ("insecure", "Object.defineProperty(window, 'isSecureContext', { value: false })"),
    ):
        other = page.context.new_page()
        other.add_init_script(script)
        inspector.page = other
        other.goto(f"{server.address}/phone/")
        other.locator(".strong").first.wait_for()
        yield name
        other.close()
    inspector.page = page
