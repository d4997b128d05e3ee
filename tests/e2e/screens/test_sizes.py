"""Every screen on small phones, with large text and held across: no control is cut off.

At 130 % of the text what stands at the thumb and at the top is in sight as it is; at 200 % a
control may have to be scrolled to, and then shows whole.
"""

import pytest

from tests.e2e.inspector import Inspector, show
from tests.e2e.phone_words import word
from tests.e2e.server import read_checklist

WHOLE = [
    *[(320, 568, 100), (360, 560, 100), (360, 640, 100), (640, 360, 100)],
    *[(320, 568, 130), (360, 560, 130), (360, 640, 130)],
]
BY_SCROLLING = [(360, 640, 200), (320, 568, 200), (640, 360, 130)]
# Controls that do not scroll with a list, and are not wholly in the window.
FIND_FIXED = """() => {
  const root = document.querySelector("dialog[open]") ?? document.querySelector("#screen");
  return [...root.querySelectorAll(".dock button, .dock a, .part-bar a, .head a")]
    .filter((one) => one.checkVisibility()).flatMap((one) => {
      const { left, top, right, bottom, width } = one.getBoundingClientRect();
      const isWhole = width > 0 && left >= -0.5 && top >= -0.5 && right <= innerWidth + 0.5 && bottom <= innerHeight + 0.5;
      return isWhole ? [] : [[one.id || one.className, Math.round(top), Math.round(bottom), innerHeight]];
    });
}"""
# Controls that cannot be brought wholly into sight by scrolling.
FIND_UNREACHED = """() => {
  const root = document.querySelector("dialog[open]") ?? document.querySelector("#screen");
  const found = [];
  for (const one of root.querySelectorAll("button, a, select, textarea, input:not(.beside), summary")) {
    if (!one.checkVisibility()) continue;
    one.scrollIntoView({ block: "center" });
    const { left, top, right, bottom, height } = one.getBoundingClientRect();
    const list = one.closest(".content, .checks, .sheet-content, .dock");
    const fits = height <= (list?.clientHeight ?? innerHeight);
    if (left < -0.5 || right > innerWidth + 0.5 || (fits && (top < -0.5 || bottom > innerHeight + 0.5)))
      found.push([one.id || one.className || one.textContent, Math.round(top), Math.round(bottom)]);
  }
  return found;
}"""
# The question itself, and how much of it shows.
FIND_ASK = """() => {
  const ask = document.querySelector("#ui-now .ask");
  if (!ask || document.querySelector("dialog[open]")) return null;
  // As after a paint; the sizes before have scrolled.
  document.querySelector("#ui-now .now-head").scrollIntoView({ block: "nearest" });
  const { top } = ask.getBoundingClientRect(), list = document.querySelector(".checks").getBoundingClientRect();
  return Math.round(Math.min(list.bottom, innerHeight) - Math.max(top, list.top));
}"""
MIN_ASK_PX = 40


@pytest.fixture
def inspector(server, phone_page):
    inspector = Inspector(phone_page, read_checklist(server, "finished-stove"))
    inspector.join(server.address, server.make_code())
    return inspector


def wait_calm(page):
    page.locator("#screen:not(.settling)").wait_for()
    page.wait_for_timeout(60)


def type_in(page, keys):
    for key in keys:
        page.locator(f"#screen:not(.settling) #ui-key-{key}").tap()


def visit(inspector, shot):
    """Yields the name of each state of the screens, the fullest ones."""
    page = inspector.page
    yield "today"
    show(page, "#/next")
    page.locator("#ui-serial").fill("B9-001")
    page.locator("#ui-start").tap()
    page.locator("#ui-sure").wait_for()
    yield "next, odd serial"
    page.locator("#ui-serial").fill("B1-001")
    page.locator("#ui-start").tap()
    page.locator(".walk").wait_for()
    yield "tick"
    page.locator("#screen:not(.settling) #ui-pass").tap()
    wait_calm(page)
    yield "tick, answered"
    page.locator("#ui-how").tap()
    yield "tick, how"
    page.locator("#screen:not(.settling) #ui-fail").tap()
    page.locator("dialog[open]").wait_for()
    page.locator("dialog [id^=ui-fault-]").first.tap()
    page.locator("#ui-photo").set_input_files(shot)
    page.locator("dialog[open] img.photo").wait_for()
    yield "fault"
    page.locator("#ui-done").tap()
    wait_calm(page)
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
    page.locator("#screen:not(.settling) #ui-more").tap()
    page.locator("dialog[open]").wait_for()
    yield "more"
    page.locator("#ui-cannot-measure").tap()
    page.locator("#ui-fault-cannot-measure").wait_for()
    yield "cannot be measured"
    page.locator("#ui-note").fill("torn")
    page.locator("#ui-done").tap()
    wait_calm(page)
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


def test_no_control_is_cut_off_on_any_screen(inspector, shot):
    page, wrong, seen = inspector.page, {}, 0
    for name in visit(inspector, shot):
        wait_calm(page)
        for width, height, text in [*WHOLE, *BY_SCROLLING]:
            page.set_viewport_size({"width": width, "height": height})
            page.evaluate(
                "size => document.documentElement.style.setProperty('font-size', size, 'important')",
                f"calc(1.125 * {text}%)",
            )
            page.wait_for_timeout(30)
            is_whole = (width, height, text) in WHOLE
            found = page.evaluate(FIND_FIXED) if is_whole else []
            shown = page.evaluate(FIND_ASK) if is_whole else None
            if shown is not None and shown < MIN_ASK_PX:
                found.append(["the question", shown])
            found += page.evaluate(FIND_UNREACHED)
            seen += 1
            if found:
                wrong[name, width, height, text] = found
        page.set_viewport_size({"width": 360, "height": 640})
        page.evaluate("document.documentElement.style.removeProperty('font-size')")
    assert seen >= 20 * 10
    assert not wrong, "\n".join(f"{where}: {found}" for where, found in wrong.items())


def test_words_of_the_undo_line_are_those_of_the_answer(inspector):
    page = inspector.page
    inspector.start_stove()
    page.locator("#screen:not(.settling) #ui-pass").tap()
    said = page.locator("#ui-answered span").inner_text()
    assert said.startswith(word("verdict.pass"))
