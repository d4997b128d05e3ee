"""A photo's figures become answers in the walk: taken, typed over, sent with both pictures.

The photo screen is left out: what it hands over is made up here.
"""

from contextlib import closing

import pytest
from playwright.sync_api import expect

from qcapp.store.registry.batches import save_batches
from qcapp.sync.photos import get_photo
from tests.e2e.app_modules import READ_DRAFT, wait_for_answer, with_modules
from tests.e2e.holes_camera import draw_grate, put_camera_in_page
from tests.e2e.inspector import Inspector, wait_settled, wait_unsent
from tests.e2e.phone_words import word
from tests.e2e.screens.test_walk import begin, open_part
from tests.e2e.server import BATCH, open_small_yard, read_checklist

TAKE = with_modules("""async (isTaken) => {
  const [{app}, {acceptHoles}] =
    await Promise.all([load('app.js'), load('screens/holes_answer.js')]);
  const draw = (colour) => {
    const canvas = Object.assign(document.createElement('canvas'), {width: 640, height: 480});
    const paint = canvas.getContext('2d');
    paint.fillStyle = colour;
    paint.fillRect(0, 0, 640, 480);
    return new Promise((resolve) => canvas.toBlob(resolve, 'image/jpeg'));
  };
  const sure = (value, uncertainty) => ({value, uncertainty, parts: {}, line: []});
  const holes = Array.from({length: 19}, (_, at) =>
    ({x: 0, y: 0, width: sure(17 + at / 20, 0.31), margin: sure(11.52 + at / 5, 0.42)}));
  await acceptHoles(app, 'pierce-grate', {
    picture: await draw('#642'), overlay: await draw('#975'), isTaken,
    proposal: {holes, web: sure(11.04, 0.27), tilt: 0, distance: 500, blur: 1, marks: 12},
    setup: {ruler: 180.2, step: 0},
  });
}""")


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    with open_small_yard(tmp_path_factory.mktemp("yard")) as server:
        with closing(server.open_store()) as store, store.writing() as connection:
            save_batches(connection, [BATCH | {"checklist_ids": ["green-liner"]}])
        yield server


@pytest.fixture
def inspector(server, phone_page):
    inspector = Inspector(phone_page, read_checklist(server, "green-liner"))
    inspector.join(server.address, server.make_code())
    return inspector


def open_check(page, ask):
    page.locator("button.row", has_text=ask).tap()
    page.locator("#ui-now", has_text=ask).wait_for()
    wait_settled(page)


def test_one_photo_answers_its_checks_and_can_be_typed_over(server, inspector, shots):
    page = inspector.page
    begin(inspector, "B1-070")
    open_part(page, "Grate")
    page.locator("#ui-key-photo").tap()
    page.wait_for_url("**/#/holes/pierce-grate")
    page.go_back()
    page.locator("#ui-key-photo").wait_for()
    page.evaluate(TAKE, True)
    typed = page.locator(".typed")
    expect(typed.locator("output")).to_contain_text("19")
    expect(typed).to_contain_text(word("given.photo"))
    shots("count")
    page.locator("#ui-key-ok").tap()
    # All checks of the part have their answers.
    page.locator(".part-bar h1", has_text="Whole liner").wait_for()
    open_part(page, "Grate")
    expect(page.locator("button.row", has_text="Width of a hole")).to_contain_text(
        f"{word('verdict.pass')} · {word('given.photo')} · 17.5 ± 0.4 mm"
    )
    open_check(page, "Edge hole to grate edge")
    # 11.5 is inside 11 by more than 0.4 but by less than the rule's 0.8: the photo's counts.
    expect(typed).to_contain_text("11.5 ± 0.5 mm")
    expect(typed).to_contain_text(word("verdict.pass"))
    shots("margin")
    open_check(page, "Thinnest clay between two holes")
    expect(typed).to_contain_text("11 ± 0.3 mm")
    for key in ("1", "0", "mark", "9", "ok"):
        page.locator(f"#ui-key-{key}").tap()
    page.locator("#ui-now", has_text="Thinnest clay").wait_for(state="detached")
    inspector.walk()
    inspector.save()
    wait_unsent(page, 0)
    check_pictures_are_sent(server, page, check_record(server))


def check_record(server) -> set[str]:
    """Taken figures with the photo's uncertainty, the typed one without. Names of both pictures."""
    ((state, event),) = [one for one in server.read_log() if one[1]["kind"] == "inspection"]
    assert state == "counted"
    answers = event["body"]["answers"]
    said = {key: answers[key] for key in ("grate-hole-count", "grate-edge-margin", "hole-size")}
    assert {key: one["values"] for key, one in said.items()} == {
        "grate-hole-count": ["19"],
        "grate-edge-margin": ["11.5"],
        "hole-size": ["17.5"],
    }
    sure = {key: one["holes"].get("uncertainty") for key, one in said.items()}
    assert sure == {"grate-hole-count": None, "grate-edge-margin": "0.5", "hole-size": "0.4"}
    web = answers["grate-web"]
    assert web["values"] == ["10.9"] and "uncertainty" not in web["holes"]
    assert web["holes"]["is_taken"] is False
    assert web["holes"]["proposal"]["web"] == {"value": "11.0", "uncertainty": "0.3"}
    names = {web["holes"]["photo"], web["holes"]["overlay"]}
    assert len(names) == 2 and set(event["photos"]) == names == set(web["photos"])
    return names


def check_pictures_are_sent(server, page, names):
    """The server gets both, after the record."""
    wait_for_answer(
        page,
        with_modules("""async () => {
          const {listUnsentPhotos} = await load('store/photos.js');
          return (await listUnsentPhotos()).length === 0;
        }"""),
    )
    with closing(server.open_store()) as store:
        assert all(get_photo(store, name) for name in names)


def test_photo_that_is_not_taken_is_kept_beside_what_is_typed(inspector, shots):
    page = inspector.page
    begin(inspector, "B1-071")
    open_part(page, "Grate")
    page.locator("#ui-key-photo").wait_for()
    page.evaluate(TAKE, False)
    page.locator("#ui-key-photo").wait_for()
    expect(page.locator(".typed")).not_to_contain_text(word("given.photo"))
    for key in ("1", "9", "ok"):
        page.locator(f"#ui-key-{key}").tap()
    page.locator("#ui-now", has_text="Width of a hole").wait_for()
    kept = page.evaluate(READ_DRAFT)["answers"]["grate-hole-count"]
    assert kept["values"] == ["19"] and kept["holes"]["is_taken"] is False
    assert kept["photos"] == [kept["holes"]["photo"], kept["holes"]["overlay"]]


@pytest.fixture
def shots(inspector, tmp_path):
    return lambda name: inspector.page.screenshot(path=tmp_path / f"{name}.png")


def test_camera_measures_and_the_check_takes_what_it_found(inspector):
    """The whole way on the app's own modules: ruler, live picture, worker, figures, answer."""
    page, (scene, grey) = inspector.page, draw_grate()
    begin(inspector, "B1-072")
    open_part(page, "Grate")
    page.locator("#ui-key-photo").tap()
    page.locator("#ui-ruler").fill("180")
    put_camera_in_page(page, grey)
    page.locator("#ui-keep").tap()
    page.locator("#ui-take:enabled").tap()
    page.locator("#ui-accept").wait_for()
    page.locator(".dock:not([inert]) #ui-accept").tap()
    page.locator("#ui-now").wait_for()
    page.evaluate(with_modules("async () => (await load('app.js')).app.draftStored()"))
    answers = page.evaluate(READ_DRAFT)["answers"]
    count = answers["grate-hole-count"]
    assert count["values"] == [str(len(scene.grate.open_holes()))] and count["holes"]["is_taken"]
    margin = answers["grate-edge-margin"]
    assert abs(float(margin["values"][0]) - scene.grate.smallest_margin()) < 0.5
    assert 0 < float(margin["holes"]["uncertainty"]) < 1
