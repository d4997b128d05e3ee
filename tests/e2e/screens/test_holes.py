"""Holes by photo on the phone: a drawn photograph goes in by the file chooser, figures come out."""

import io

import numpy as np
import pytest
from PIL import Image

from tests.e2e.inspector import Inspector, show
from tests.e2e.phone_words import list_words, word
from tests.e2e.server import read_checklist
from tests.holes.render import make_scene


@pytest.fixture
def inspector(server, phone_page):
    inspector = Inspector(phone_page, read_checklist(server, "finished-stove"))
    inspector.join(server.address, server.make_code())
    return inspector


def as_png(grey: np.ndarray) -> dict:
    kept = io.BytesIO()
    Image.fromarray(grey).save(kept, "PNG")
    return {"name": "grate.png", "mimeType": "image/png", "buffer": kept.getvalue()}


def test_picture_with_the_frame_is_measured_and_one_without_it_is_not(inspector, tmp_path):
    page = inspector.page
    show(page, "#/settings")
    page.get_by_text(word("holes.title")).click()
    picture = page.locator("#ui-holes")
    picture.wait_for()
    assert page.locator("#ui-ruler").input_value() == "180"
    picture.set_input_files(as_png(np.full((480, 640), 128, np.uint8)))
    page.get_by_text(word("holes.refused.no-frame")).wait_for()
    scene = make_scene(5001, (150.0, 16.0, 15.0))
    picture.set_input_files(as_png(scene.render()))
    page.locator(".holes canvas").wait_for()
    said = page.locator(".holes").inner_text()
    assert word("holes.count", n=len(scene.grate.open_holes())) in said
    assert word("holes.refused.no-frame") not in said
    measured = float(said.split(list_words()["holes.margin"].split("{")[0])[1].split()[0])
    assert measured == pytest.approx(scene.grate.smallest_margin(), abs=0.5)
    page.locator("#ui-ruler").fill("176,4")
    page.locator("#ui-ruler").press("Tab")
    page.screenshot(path=tmp_path / "holes.png", full_page=True)
    show(page, "#/settings")
    page.get_by_text(word("holes.title")).wait_for()
    show(page, "#/holes")
    page.locator("#ui-holes").wait_for()
    assert page.locator("#ui-ruler").input_value() == "176,4"
    picture.set_input_files({"name": "a.txt", "mimeType": "text/plain", "buffer": b"no picture"})
    page.get_by_text(word("holes.refused.no-picture")).wait_for()
