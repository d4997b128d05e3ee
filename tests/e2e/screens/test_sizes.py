"""Every screen on small phones, with large text and held across: no control is cut off.

At 130 % of the text what stands at the thumb and at the top is in sight as it is; at 200 % a
control may have to be scrolled to, and then shows whole.
"""

from tests.e2e.inspector import wait_settled
from tests.e2e.phone_words import word
from tests.e2e.screens.states import visit, wait_calm

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
      const isInside = left >= -0.5 && top >= -0.5 &&
        right <= innerWidth + 0.5 && bottom <= innerHeight + 0.5;
      if (width > 0 && isInside) return [];
      return [[one.id || one.className, Math.round(top), Math.round(bottom), innerHeight]];
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
  const { top } = ask.getBoundingClientRect();
  const list = document.querySelector(".checks").getBoundingClientRect();
  return Math.round(Math.min(list.bottom, innerHeight) - Math.max(top, list.top));
}"""
MIN_ASK_PX = 40


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
    wait_settled(page).locator("#ui-pass").tap()
    said = page.locator("#ui-answered span").inner_text()
    assert said.startswith(word("verdict.pass"))
