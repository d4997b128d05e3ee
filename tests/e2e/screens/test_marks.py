"""Marks on the drawing: on the part that they are about, whatever the size of the screen."""

import pytest

from tests.e2e.inspector import show, wait_settled

SIZES = [(320, 568), (360, 560), (360, 640), (412, 915), (640, 360)]
# [part, how far the middle of its mark is outside of its area, whether the mark is cut off], in px.
READ_MARKS = """() => {
  const svg = document.querySelector(".drawing"), edge = svg.getBoundingClientRect();
  const isOutside = (box) =>
    box.left < edge.left - 1 || box.right > edge.right + 1 ||
    box.top < edge.top - 1 || box.bottom > edge.bottom + 1;
  const middle = ({left, right, top, bottom}) => [(left + right) / 2, (top + bottom) / 2];
  return [...svg.querySelectorAll(".mark")].map((mark) => {
    const part = svg.getElementById(mark.dataset.part), box = mark.getBoundingClientRect();
    const area = (part.querySelector(".hit") ?? part).getBoundingClientRect();
    const [x, y] = middle(box);
    const off = Math.max(area.left - x, x - area.right, area.top - y, y - area.bottom, 0);
    return [mark.dataset.part, off, isOutside(box)];
  });
}"""


def read_marks(page):
    wait_settled(page)
    page.evaluate("new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")
    return page.evaluate(READ_MARKS)


@pytest.mark.parametrize("size", SIZES, ids="{0[0]}x{0[1]}".format)
def test_mark_lies_on_its_part(inspector, size):
    page = inspector.page
    page.set_viewport_size({"width": size[0], "height": size[1]})
    inspector.start_stove()
    seen = set()
    while not page.locator("#ui-save").count():
        # Where numbers are typed a short screen has no room for the drawing.
        if page.locator(".map").is_visible():
            is_near = page.locator(".typing").count() > 0
            for part, off, is_cut in read_marks(page):
                seen.add(part)
                assert off < 1 and (is_near or not is_cut), (part, off, is_cut)
        inspector.answer({})
    show(page, "#/walk/legs")
    assert {part for part, _off, _cut in read_marks(page)} == {
        part["id"] for part in inspector.compiled["parts"]
    }
    assert len(seen) > 5


@pytest.mark.parametrize("is_reloaded", [False, True])
def test_mark_comes_when_a_turned_phone_shows_the_drawing(inspector, is_reloaded):
    page = inspector.page
    page.set_viewport_size({"width": 360, "height": 560})
    inspector.start_stove()
    walked = []
    while page.locator(".typing").count() == 0:
        walked.append(inspector.find_open()["part"])
        inspector.answer({})
    if is_reloaded:
        page.reload()
        page.locator(".typing").wait_for()
    assert not page.locator(".map").is_visible()
    page.wait_for_timeout(100)
    show(page, "#/walk/door")
    expected = [[part, 0] for part in dict.fromkeys(walked)]
    assert [mark[:2] for mark in read_marks(page)] == expected
    show(page, "#/walk/door-opening")
    page.set_viewport_size({"width": 360, "height": 700})
    assert [mark[:2] for mark in read_marks(page)] == expected
