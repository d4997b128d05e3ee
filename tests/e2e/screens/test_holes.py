"""Holes by photo on the phone, with a file of video for its camera: live picture, figures, refusals;
the camera and the worker end with the screen.
"""

import pytest
from playwright.sync_api import expect

from tests.conftest import PHONE
from tests.e2e.holes_camera import (
    as_file,
    draw_bench,
    draw_grate,
    keep_live_tracks,
    launch,
    put_camera_in_page,
    write_video,
)
from tests.e2e.inspector import Inspector, show
from tests.e2e.phone_words import list_words, word
from tests.e2e.server import read_checklist

STEP = "cut-door-opening"
# Takes what the check would take, and goes back to it.
ACCEPT = """export async function acceptHoles(app, step, { picture, overlay, proposal, setup, isTaken }) {
  const read = async (blob) => {
    const { width, height } = await createImageBitmap(blob);
    return [blob.type, Math.max(width, height)];
  };
  const pictures = await Promise.all([picture, overlay].map(read));
  window.taken = { step, pictures, setup, isTaken, count: proposal.holes.length };
  app.go(`#/walk/${app.draft.at.part}`);
}"""
NO_ANSWER = "self.onmessage = () => {};"
TRACKS = "window.tracks.map((track) => track.readyState)"
IS_HIDDEN = """(hidden) => {
  Object.defineProperty(document, "hidden", { configurable: true, get: () => hidden });
  document.dispatchEvent(new Event("visibilitychange"));
}"""


@pytest.fixture(scope="module")
def video(tmp_path_factory):
    path = tmp_path_factory.mktemp("camera") / "seen.y4m"
    write_video(path, draw_grate()[1])
    return path


@pytest.fixture(scope="module")
def browser(playwright, video):
    started = launch(playwright, video)
    yield started
    started.close()


@pytest.fixture
def open_phone(server, browser):
    """A joined phone with a stove begun; told whether its camera is allowed, and which files of the
    app are others.
    """
    contexts = []

    def open_it(*, is_allowed=True, **files: str) -> Inspector:
        context = browser.new_context(**PHONE, service_workers="block")
        contexts.append(context)
        if not is_allowed:
            context.route("**/phone/", refuse_camera)
        keep_live_tracks(context)
        for name, text in {"holes_answer": ACCEPT, **files}.items():
            context.route(f"**/{name}.js", serve(text))
        inspector = Inspector(context.new_page(), read_checklist(server, "finished-stove"))
        inspector.join(server.address, server.make_code(f"Phone {len(contexts)}"))
        inspector.start_stove()
        return inspector

    yield open_it
    for context in contexts:
        context.close()


def refuse_camera(route):
    """The browser itself refuses."""
    answer = route.fetch()
    route.fulfill(response=answer, headers={**answer.headers, "permissions-policy": "camera=()"})


def serve(text):
    return lambda route: route.fulfill(body=text, content_type="text/javascript")


def begin(page):
    """Past the ruler, to the camera."""
    show(page, f"#/holes/{STEP}")
    page.locator("#ui-ruler").fill("180")
    page.locator("#ui-keep").tap()


def wait_tracks(page, *states):
    page.wait_for_function(f"wanted => {TRACKS}.join() === wanted", arg=",".join(states))


def wait_until(page, is_so):
    for _ in range(100):
        if is_so():
            return
        page.wait_for_timeout(50)
    raise AssertionError("it does not come")


def read_figures(page, scene):
    said = page.locator(".holes .content").inner_text()
    assert word("holes.count", n=len(scene.grate.open_holes())) in said
    after = said.split(list_words()["holes.margin"].split("{")[0])[1]
    assert float(after.split()[0]) == pytest.approx(scene.grate.smallest_margin(), abs=0.5)


def test_check_takes_the_figures_of_the_live_picture_or_refuses_in_words(open_phone, video):
    page, (scene, grate) = open_phone().page, draw_grate()
    show(page, f"#/holes/{STEP}")
    page.locator("#ui-ruler").fill("18,0")
    page.locator("#ui-keep").tap()
    page.get_by_text(word("holes.refused.ruler")).wait_for()
    page.locator("#ui-ruler").fill("181,5")
    page.locator("#ui-step").fill("31")
    page.locator("#ui-keep").tap()
    page.get_by_text(word("holes.refused.height-not-flat")).wait_for()
    page.locator("#ui-step").fill("0")
    page.locator("#ui-ruler").fill("180")
    page.locator("#ui-keep").tap()
    page.locator("#ui-take:enabled").wait_for()
    assert page.evaluate(TRACKS) == ["live"]
    page.locator("#ui-take").tap()
    page.locator("#ui-accept").wait_for()
    wait_tracks(page, "ended")
    read_figures(page, scene)
    page.locator("#ui-accept").tap()
    page.wait_for_function("() => window.taken")
    taken = page.evaluate("window.taken")
    assert taken == {
        "step": STEP,
        "pictures": [["image/jpeg", 960], ["image/jpeg", taken["pictures"][1][1]]],
        "setup": {"ruler": 180, "step": 0},
        "isTaken": True,
        "count": len(scene.grate.open_holes()),
    }
    page.locator("#ui-now").wait_for()
    # The ruler is kept; nothing of a frame is before the camera now.
    write_video(video, draw_bench())
    show(page, f"#/holes/{STEP}")
    page.locator("#ui-take:enabled").tap()
    page.get_by_text(word("holes.refused.no-frame")).wait_for()
    assert page.locator(".holes canvas").is_visible() and not page.locator("#ui-accept").count()
    write_video(video, grate)
    page.locator("#ui-again").tap()
    page.locator("#ui-take:enabled").tap()
    page.locator("#ui-type").tap()
    page.wait_for_function("() => window.taken.isTaken === false")
    assert page.evaluate("window.taken.count") == taken["count"]
    page.locator("#ui-now").wait_for()
    assert set(page.evaluate(TRACKS)) == {"ended"}
    leave_both_ways(page)


def leave_both_ways(page):
    """By the phone's own way back and by the screen's: to the check, and from there home."""
    show(page, f"#/holes/{STEP}")
    page.locator("#ui-take:enabled").wait_for()
    page.go_back()
    page.locator("#ui-now").wait_for()
    show(page, f"#/holes/{STEP}")
    page.locator("#ui-take:enabled").wait_for()
    page.locator("a.back").tap()
    page.locator("#ui-now").wait_for()
    page.go_back()
    page.locator("#ui-next").wait_for()


def test_where_the_camera_is_not_allowed_a_picture_of_the_phones_own_is_measured(open_phone):
    page, (scene, grate) = open_phone(is_allowed=False).page, draw_grate()
    begin_from_settings(page)
    page.get_by_text(word("holes.camera_refused")).wait_for()
    picture = page.locator("#ui-holes")
    picture.set_input_files({"name": "a.txt", "mimeType": "text/plain", "buffer": b"no picture"})
    page.get_by_text(word("holes.refused.no-picture")).wait_for()
    picture.set_input_files(as_file(grate))
    page.get_by_text(word("holes.trial")).wait_for()
    read_figures(page, scene)
    assert not page.locator("#ui-accept, #ui-type").count()
    page.locator("#ui-again").tap()
    page.locator("label[for=ui-holes]").wait_for()
    page.evaluate("delete MediaDevices.prototype.getUserMedia")
    page.locator("#ui-setup").tap()
    expect(page.locator("#ui-ruler")).to_have_value("180")
    page.locator("#ui-keep").tap()
    page.get_by_text(word("holes.no_camera")).wait_for()


def begin_from_settings(page):
    show(page, "#/settings")
    page.get_by_text(word("holes.title")).tap()
    page.locator("#ui-ruler").fill("180")
    page.locator("#ui-keep").tap()


def test_camera_and_worker_end_with_the_screen(open_phone):
    page = open_phone(**{"holes/worker": NO_ANSWER}).page
    begin(page)
    page.locator("#ui-take:enabled").wait_for()
    page.evaluate(IS_HIDDEN, True)
    wait_tracks(page, "ended")
    page.evaluate(IS_HIDDEN, False)
    wait_tracks(page, "ended", "live")
    page.locator("a.back").tap()
    page.locator("#ui-now").wait_for()
    wait_tracks(page, "ended", "ended")
    # The browser's question is answered after the person has left.
    page.evaluate("() => { window.held = new Promise((answer) => { window.answer = answer; }); }")
    show(page, f"#/holes/{STEP}")
    page.locator(".holes video").wait_for()
    show(page, "#/review")
    page.locator("#ui-save, .review, h1").first.wait_for()
    page.evaluate("window.answer()")
    wait_tracks(page, "ended", "ended", "ended")
    page.evaluate("window.held = null")
    overtake(page)
    wait_tracks(page, "ended", "ended", "ended")
    show(page, f"#/holes/{STEP}")
    page.locator("#ui-take:enabled").tap()
    page.locator(".holes progress").wait_for()
    wait_until(page, lambda: len(page.workers) == 1)
    assert page.locator(".holes canvas").is_visible()
    page.locator("#ui-again").tap()
    wait_until(page, lambda: not page.workers)
    page.locator("#ui-take:enabled").tap()
    wait_until(page, lambda: len(page.workers) == 1)
    show(page, "#/review")
    wait_until(page, lambda: not page.workers)
    wait_tracks(page, *["ended"] * 5)

    use_light(page)


def overtake(page):
    """The camera's screen is asked for and left again before it shows."""
    page.evaluate(
        """step => {
      addEventListener("hashchange", () => { location.hash = "#/parts"; }, { once: true });
      location.hash = `#/holes/${step}`;
    }""",
        STEP,
    )
    page.locator(".rows").first.wait_for()
    page.wait_for_timeout(300)


def use_light(page):
    """Of a camera that has one, and a focus of its own."""
    put_camera_in_page(page, draw_grate()[1])
    show(page, f"#/holes/{STEP}")
    page.locator("#ui-torch[aria-pressed=false]").tap()
    page.locator("#ui-torch[aria-pressed=true]").tap()
    page.locator("#ui-torch[aria-pressed=false]").wait_for()
    told = [{"focusMode": "continuous"}, {"torch": True}, {"torch": False}]
    assert page.evaluate("window.asked") == told
