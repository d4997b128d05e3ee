"""Which stoves a photo was taken of, on both engines."""

import pytest

from qcapp.inspection.event import stove_key
from qcapp.store.queries.photo_answers import list_photo_stoves
from qcapp.usecases.load_photo_figures import load_photo_figures
from tests.photo_yard import inspect, margin_of, open_photo_yard, take

pytestmark = pytest.mark.both_engines


def test_stoves_with_photos_among_the_newest_first_passes():
    yard = open_photo_yard()
    assert load_photo_figures(yard.store) == []
    taken = {"margin": {"values": ["12.3"], **take("margin")}}
    first = inspect(yard, "R-1", taken, at="2026-11-24T08:00:00.000Z")
    again = inspect(yard, "R-1", {"margin": margin_of("12.3", "13", "14")}, corrects=first["id"])
    body = {"reason": "measured by hand", "replacement": again["body"]}
    mended = yard.phone.seal(
        "correction", "R-1", body, corrects=first["id"], stage="fired-liner",
        photos=again["photos"],
    )  # fmt: skip
    plain = inspect(yard, "R-2", {}, at="2026-11-24T08:10:00.000Z")
    last = inspect(yard, "R-3", taken, at="2026-11-24T08:20:00.000Z")
    forged = inspect(yard, "R-4", {"rim": taken["margin"]}, at="2026-11-24T08:30:00.000Z")
    yard.push(first, mended, plain, last, forged)
    with yard.store.reading() as connection:
        found = [list_photo_stoves(connection, newest=newest) for newest in (9, 1)]
    one, three = (stove_key("fired-liner", serial) for serial in ("R-1", "R-3"))
    assert found == [[one, three], [three]]
    # As corrected: what the photo proposed was typed over.
    (row,) = load_photo_figures(yard.store)
    assert (row.figure, row.proposals, row.taken, row.typed) == ("margin", 2, 1, 1)
    assert row.mean == pytest.approx(0.7)
