"""What the module does not measure, and by which code it says so. Each picture is the good one with
one thing wrong.
"""

import numpy as np
import pytest
from scipy import ndimage

from tests.holes import render
from tests.holes.node import measure
from tests.holes.render import HEIGHT, WIDTH, make_camera, make_grate

SIZE = {"diameter": 150.0, "hole": 16.0, "margin": 15.0}


def make_good_scene() -> render.Scene:
    rng = np.random.default_rng(11)
    grate = make_grate(rng, **SIZE)
    grate.blocked[:] = False
    return render.Scene(grate, make_camera(rng, most_tilt=8), "a4", 81.0, rng)


def take(scene: render.Scene) -> np.ndarray:
    return scene.render()


def hide_marks(grey: np.ndarray, scene: render.Scene, hidden_marks: range) -> np.ndarray:
    """Marks covered by paper, as by a hand's sheet."""
    places, _ = scene.camera.rays()
    hidden = grey.copy()
    marks = render.list_marks(scene.paper)
    for mark in [marks[at] for at in hidden_marks]:
        near = np.abs(places - np.array(mark, np.float32)).max(axis=-1) < 8
        hidden[near] = 190
    return hidden


def no_frame():
    scene = make_good_scene()
    return hide_marks(take(scene), scene, range(12))


def squares_of_another_size():
    """They lie as the marks do."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(render, "MARK_SIDE", 6.5)
        return take(make_good_scene())


def few_marks():
    """Three corners. Three neighbours would leave no four to begin with: that is no frame."""
    scene = make_good_scene()
    return hide_marks(take(scene), scene, range(0, 9, 3))


def bent_sheet():
    """The sheet's side bulges, so that its marks lie elsewhere in the picture."""
    y, x = np.mgrid[0:HEIGHT, 0:WIDTH].astype(float)
    lifted = 12 * np.exp(-(((x - WIDTH * 0.2) / 150) ** 2) - ((y - HEIGHT * 0.2) / 150) ** 2)
    return ndimage.map_coordinates(
        take(make_good_scene()), [y + lifted, x], order=1, mode="nearest"
    )


def tilted():
    scene = make_good_scene()
    lean = np.radians(43)
    axis = np.array([np.sin(lean), 0, -np.cos(lean)])
    across = np.array([0.0, 1.0, 0.0])
    below = np.cross(across, axis)
    scene.camera = render.Camera(744.0, (0.0, 0.0), np.stack([across, below, axis]), -axis * 470)
    return take(scene)


def blurred():
    return ndimage.gaussian_filter(take(make_good_scene()).astype(float), 2.7)


def glare():
    grey = take(make_good_scene())
    y, x = np.mgrid[0:HEIGHT, 0:WIDTH]
    grey = grey.copy()
    grey[(x - WIDTH / 2) ** 2 + (y - HEIGHT / 2) ** 2 < 40**2] = 255
    return grey


def two_kinds():
    scene = make_good_scene()
    scene.grate.holes[9, 2] *= 1.5
    return take(scene)


def torn_hole():
    """Two holes run into each other."""
    scene = make_good_scene()
    scene.grate.holes[9, :2] = scene.grate.holes[8, :2] + [9.0, 0.0]
    return take(scene)


def long_hole():
    scene = make_good_scene()
    scene.grate.holes[9, 3] = 1.4
    return take(scene)


def no_holes():
    scene = make_good_scene()
    scene.grate.blocked[:] = True
    return take(scene)


def rim_under_the_frame():
    scene = make_good_scene()
    scene.grate.rim[0] = 120.0
    return take(scene)


WRONG = {
    "no-frame": (no_frame, squares_of_another_size),
    "few-marks": (few_marks,),
    "marks-not-flat": (bent_sheet,),
    "tilted": (tilted,),
    "blurred": (blurred,),
    "glare": (glare,),
    "holes-differ": (two_kinds, torn_hole, long_hole),
    "no-holes": (no_holes,),
    "rim-not-seen": (rim_under_the_frame,),
}
CASES = [(code, make) for code, makers in WRONG.items() for make in makers]


def test_good_picture_is_measured(tmp_path):
    (answer,) = measure(tmp_path, [(take(make_good_scene()), {"wanted": "grate"})])
    assert len(answer["holes"]) == 19
    assert answer["marks"] == 12


@pytest.mark.parametrize(("code", "make"), CASES, ids=[make.__name__ for _, make in CASES])
def test_picture_is_refused_by_its_code(code, make, tmp_path):
    (answer,) = measure(tmp_path, [(make(), {"wanted": "grate"})])
    assert answer.get("refused") == code


@pytest.mark.parametrize("step", [40, -31, None])
def test_face_far_from_the_frame_or_unknown_is_refused(step, tmp_path):
    task = {"wanted": "grate", "setup": {"step": step, "ruler": 180}}
    (answer,) = measure(tmp_path, [(take(make_good_scene()), task)])
    assert answer["refused"] == "height-not-flat"


def test_one_or_two_hidden_marks_do_no_harm(tmp_path):
    scene = make_good_scene()
    grey = take(scene)
    tasks = [(hide_marks(grey, scene, range(count)), {"wanted": "grate"}) for count in (0, 1, 2)]
    answers = measure(tmp_path, tasks)
    assert [answer["marks"] for answer in answers] == [12, 11, 10]
    margins = [min(hole["margin"]["value"] for hole in answer["holes"]) for answer in answers]
    assert max(margins) - min(margins) < 0.1


def test_print_scale_is_taken_out(tmp_path):
    """A ruler printed two per cent short: every length is two per cent less, none is surer."""
    grey = take(make_good_scene())
    rulers = (180.0, 176.4)
    tasks = [(grey, {"wanted": "grate", "setup": {"ruler": ruler}}) for ruler in rulers]
    first, second = measure(tmp_path, tasks)
    assert second["web"]["value"] / first["web"]["value"] == pytest.approx(0.98)
    assert second["web"]["uncertainty"] >= first["web"]["uncertainty"]
