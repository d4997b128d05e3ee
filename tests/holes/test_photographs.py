"""The phone's module against real photographs whose sizes are known.

Sizes: discs of 20 mm, 30 mm apart (nominal: the drawing beside the pictures has diameter to pitch 2
to 3; 30 mm from memory of the library's manual); squares of 25 mm (left_intrinsics.yml beside the
pictures). Hashes: tests/reference/photo.json.
"""

import json
from itertools import product
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.holes.chessboard import COLUMNS, ROWS, SQUARE, find_corners
from tests.holes.node import MAX_PASSES, measure
from tests.holes.photographs import fetch, has_hash, read_grey

REFERENCE = json.loads(
    (Path(__file__).resolve().parent.parent / "reference" / "photo.json").read_text()
)
SHEETS = "usr/share/visp-images-data/ViSP-images/calibration"
BOARDS = "usr/share/doc/opencv-doc/examples/data"
COINS = "usr/lib/python3/dist-packages/skimage/data"
PITCH, DIAMETER = 30.0, 20.0
# Twelve inner corners round the others stand for the marks.
RING = (
    (0, 0),
    (0, 3),
    (0, 5),
    (0, 8),
    (2, 8),
    (3, 8),
    (5, 8),
    (5, 5),
    (5, 3),
    (5, 0),
    (3, 0),
    (2, 0),
)

pytestmark = pytest.mark.slow


def covered(lengths: list[dict], true: float | np.ndarray, *parts: str) -> np.ndarray:
    """Whether each interval of these parts of the uncertainty (k = 2) holds the true length. No
    picture here has a ruler that was read or a height that was laid by hand.
    """
    values = np.array([one["value"] for one in lengths])
    known = [np.hypot.reduce([one["parts"][part] for part in parts]) for one in lengths]
    return np.abs(values - true) <= 2 * np.array(known)


@pytest.fixture(scope="module")
def sheets(tmp_path_factory):
    folder = fetch("visp-images-data", SHEETS)
    for known in REFERENCE["dot_sheets"]["pictures"]:
        assert has_hash(folder / known["file"], known["sha256"]), known["file"]
    task = {"wanted": "sheet", "pitch": PITCH, "diameter": DIAMETER}
    pictures = sorted(folder.glob("grid36-*.pgm"))
    assert len(pictures) == 4
    return measure(tmp_path_factory.mktemp("sheets"), [(read_grey(one), task) for one in pictures])


def test_every_disc_is_counted_and_no_digit(sheets):
    assert [len(sheet["discs"]) for sheet in sheets] == [36, 36, 36, 36]
    for sheet in sheets:
        assert {(one["row"], one["column"]) for one in sheet["discs"]} == set(
            product(range(6), repeat=2)
        )


def test_discs_are_as_far_apart_as_they_were_printed(sheets):
    errors = [abs(one["value"] - PITCH) for sheet in sheets for one in sheet["lengths"]]
    assert len(errors) == 4 * 60
    assert np.quantile(errors, 0.95) <= 0.30


def test_discs_are_as_wide_as_they_were_printed(sheets):
    """Those that are no marks: these lie at the sheet's edge, where it curls."""
    widths = [
        one["width"]["value"] for sheet in sheets for one in sheet["discs"] if not one["isMark"]
    ]
    assert len(widths) == 4 * 24
    assert max(abs(np.array(widths) - DIAMETER)) <= 0.4
    assert abs(np.mean(widths) - DIAMETER) <= 0.1


def test_stated_uncertainty_of_sheets_covers_what_was_printed(sheets):
    lengths = [one for sheet in sheets for one in sheet["lengths"]]
    widths = [one["width"] for sheet in sheets for one in sheet["discs"] if not one["isMark"]]
    assert 0.90 <= covered(lengths, PITCH, "plane", "edge").mean() <= 0.99
    assert 0.90 <= covered(widths, DIAMETER, "plane", "edge").mean() <= 0.99


def list_lengths() -> list[tuple[tuple[int, int], tuple[int, int], int]]:
    """Pairs of corners inside the ring, three or four squares apart."""
    inside = list(product(range(1, ROWS - 1), range(1, COLUMNS - 1)))
    steps = [(0, 3), (0, 4), (3, 0), (4, 0)]
    return [
        (one, (one[0] + down, one[1] + right), down + right)
        for one in inside
        for down, right in steps
        if (one[0] + down, one[1] + right) in inside
    ]


@pytest.fixture(scope="module")
def boards(tmp_path_factory):
    """(file, true lengths, measured ones) of every chessboard of the package."""
    folder = fetch("opencv-doc", BOARDS)
    for known in REFERENCE["chessboards"]["pictures"]:
        assert has_hash(folder / known["file"], known["sha256"]), known["file"]
    files = sorted([*folder.glob("left[01]?.jpg"), *folder.glob("right[01]?.jpg")])
    assert len(files) == 26
    pairs = list_lengths()
    marks = [
        {"row": r, "column": c, "place": [(c - 4) * SQUARE, (r - 2.5) * SQUARE]} for r, c in RING
    ]
    tasks = []
    for file in files:
        grey = read_grey(file)
        corners = find_corners(grey)
        assert corners is not None, file.name
        lengths = [[one, other] for one, other, _ in pairs]
        tasks.append(
            (
                grey,
                {
                    "wanted": "board",
                    "corners": corners.tolist(),
                    "marks": marks,
                    "lengths": lengths,
                },
            )
        )
    answers = measure(tmp_path_factory.mktemp("boards"), tasks)
    true = np.array([squares * SQUARE for *_, squares in pairs])
    return [
        (file.name, true, answer["lengths"]) for file, answer in zip(files, answers, strict=True)
    ]


def test_lengths_on_chessboards(boards):
    errors = {
        name: np.abs([one["value"] for one in lengths] / true - 1) * 100
        for name, true, lengths in boards
    }
    assert np.quantile(np.concatenate(list(errors.values())), 0.95) <= 0.4
    assert {name: error.max() for name, error in errors.items() if error.max() > 0.6} == {}


def test_stated_uncertainty_of_chessboards_covers_their_squares(boards):
    """A corner is no edge that light spreads over."""
    inside = np.concatenate([covered(lengths, true, "plane") for _, true, lengths in boards])
    assert 0.90 <= inside.mean() <= 0.99


def test_coins_are_counted(tmp_path):
    """Twenty-four coins (scikit-image's manual counts them so), of several sizes."""
    grey = read_grey(fetch("python3-skimage", COINS) / "coins.png")
    assert grey.shape == (303, 384)
    # As large as holes are in a straightened picture.
    half = np.asarray(Image.fromarray(grey).resize((192, 152), Image.Resampling.BOX))
    (answer,) = measure(tmp_path, [(half, {"wanted": "coins"})])
    assert answer["spots"] == 24


def test_picture_without_a_frame_gives_no_count(tmp_path):
    folders = (
        fetch("visp-images-data", SHEETS),
        fetch("opencv-doc", BOARDS),
        fetch("python3-skimage", COINS),
    )
    files = sorted(
        file
        for folder in folders
        for file in folder.iterdir()
        # One is cut off on purpose.
        if file.suffix in {".jpg", ".png", ".pgm"} and file.stem != "truncated"
    )
    pictures = [(file.name, read_grey(file)) for file in files]
    small = [(name, grey) for name, grey in pictures if 10_000 < grey.size < 400_000]
    assert len(small) > 60
    answers = measure(tmp_path, [(grey, {"wanted": "grate"}) for _, grey in small])
    given = [answer.get("refused", "measured") for answer in answers]
    assert "measured" not in given
    assert given.count("no-frame") > 0.75 * len(given)
    # A busy picture must not keep a phone.
    assert np.quantile([answer["passes"] for answer in answers], 0.95) < MAX_PASSES
