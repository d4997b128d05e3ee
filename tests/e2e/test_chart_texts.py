"""No word of a chart is cut off at its edge, in the languages whose words are longest."""

import pytest

PAGES = (
    "/trainer",
    "/trainer/steps/finished-stove/dress-edges/A01",
    "/trainer/batches",
    "/yard/limits/finished-stove/door-opening-width/medium",
)
FIND_CUT = """[...document.querySelectorAll("svg.chart text")].filter((one) => {
  const whole = one.ownerSVGElement.getBoundingClientRect();
  const words = one.getBoundingClientRect();
  return words.width && (words.right > whole.right + 1 || words.left < whole.left - 1);
}).map((one) => one.textContent)"""


@pytest.mark.parametrize("language", ["fr", "pt"])
def test_no_word_runs_over_the_edge_of_its_chart(chromium, demo, language):
    context = chromium.new_context(locale=language, viewport={"width": 1280, "height": 800})
    demo.sign_in(context)
    page = context.new_page()
    for path in PAGES:
        page.goto(demo.address + path)
        assert page.locator("svg.chart text").count() > 0
        assert page.evaluate(FIND_CUT) == [], path
    context.close()
