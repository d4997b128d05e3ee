"""The buyer's inspector checks offered stoves again behind the link, one by one, with photos."""

import io
import json

import pytest
from PIL import Image

from qcapp.store import log
from qcapp.sync.image import find_image_error
from tests.page_text import drop_random, text_of
from tests.web.test_batch_review import issue
from tests.web.test_summary_link import make_address, own_yard

STOVE = {"number": 1, "serial": "B1-002", "by": "Buyer"}


def draw_photo(kind="JPEG", size=(2000, 1500), **more):
    stream = io.BytesIO()
    Image.new("RGB", size, "brown").save(stream, kind, **more)
    return stream.getvalue()


def enter(yard, address, photos=(), **change):
    files = [("photos", ("photo.jpg", content, "image/jpeg")) for content in photos]
    # Without a file the form still comes as one with files.
    files = files or [("photos", ("", b"", "application/octet-stream"))]
    return yard.client.post(f"{address}/recheck/stove", data={**STOVE, **change}, files=files)


def list_stoves(yard):
    with yard.store.reading() as connection:
        rows = log.list_server_events(connection, ("recheck",), "B1")
    return [stove for row in rows for stove in json.loads(row.raw)["body"]["stoves"]]


def test_stove_is_rechecked_check_by_check_with_a_photo_and_the_next_summary_has_it(tmp_path):
    yard, address = own_yard(tmp_path)
    exif = Image.Exif()
    exif[0x010F] = "A camera"
    answer = enter(
        yard,
        address,
        [draw_photo(exif=exif)],
        **{"check.sharp-edge": "pass", "check.dents": "fail", "note": "a dent"},
    )
    page = text_of(answer)
    assert "B1-002 is recorded. It is not as agreed." in page
    assert "1 stove re-checked so far, 1 not as agreed." in page
    (stove,) = list_stoves(yard)
    assert stove["checks"] == {"sharp-edge": "pass", "dents": "fail"} and stove["note"] == "a dent"
    recheck = issue(yard)["summary"]["recheck"]
    assert (recheck["n"], recheck["failed"], recheck["yard_n"]) == (1, 1, 20)
    assert recheck["stoves"] == [
        {
            "serial": "B1-002",
            "checks": 2,
            "failed": [{"check": "dents", "ask": "dents"}],
            "wrote": "a dent",
            "photos": stove["photos"],
        }
    ]
    shown = yard.client.get(f"{address}/photos/{stove['photos'][0]}")
    assert shown.status_code == 200 and find_image_error(shown.content) is None
    assert b"A camera" not in shown.content
    with Image.open(io.BytesIO(shown.content)) as picture:
        assert picture.size == (1280, 960)
    assert "B1-002: dents. a dent" in text_of(yard.client.get(address)).replace(" :", ":")
    lead = text_of(yard.client.get("/batches/B1"))
    assert "Re-check of B1-002: 1 of 2 checks not as agreed" in lead


def test_stoves_are_taken_together_and_each_counts_as_it_was_entered_last(tmp_path):
    yard, address = own_yard(tmp_path)
    for serial, mark in (("B1-002", "fail"), ("B1-005", "pass"), ("B1-002", "pass")):
        assert enter(yard, address, serial=serial, **{"check.sharp-edge": mark}).status_code == 200
    recheck = issue(yard)["summary"]["recheck"]
    assert (recheck["n"], recheck["failed"]) == (2, 0)
    # A count that is given later stands for itself.
    count = {"number": 2, "n": 10, "failed": 4, "by": "Buyer"}
    assert yard.client.post(f"{address}/recheck", data=count).status_code == 200
    recheck = issue(yard)["summary"]["recheck"]
    assert (recheck["n"], recheck["failed"], "stoves" in recheck) == (10, 4, False)


@pytest.mark.parametrize(
    ("change", "photos", "says"),
    [
        ({"serial": "B1-999", "check.sharp-edge": "pass"}, (), "This serial is not offered."),
        ({"serial": "", "check.sharp-edge": "pass"}, (), "This serial is not offered."),
        ({"check.sharp-edge": ""}, (), "No check is marked."),
        ({"check.other": "pass"}, (), "These are not the checks of this batch."),
        ({"check.sharp-edge": "perhaps"}, (), "These are not the checks of this batch."),
        ({"check.sharp-edge": "pass", "by": " "}, (), "A name or code is needed"),
        ({"check.sharp-edge": "pass", "note": "x" * 1001}, (), "at most 1000 characters"),
        ({"check.sharp-edge": "pass"}, (b"no picture",), "A picture cannot be read."),
        ({"check.sharp-edge": "pass"}, (draw_photo("PNG", (9, 9)),) * 4, "at most 3 photos"),
    ],
)
def test_what_does_not_fit_is_refused_and_nothing_is_kept(tmp_path, change, photos, says):
    yard, address = own_yard(tmp_path, 4)
    answer = enter(yard, address, photos, **change)
    assert answer.status_code == 400 and says in text_of(answer)
    with yard.store.reading() as connection:
        assert log.list_server_events(connection, ("recheck",), "B1") == []
        assert connection.exec_driver_sql("SELECT count(*) FROM photo").scalar() == 0


def test_a_scrapped_stove_is_not_offered_and_no_maker_stands_on_the_page(tmp_path):
    yard, address = own_yard(tmp_path, 4)
    yard.push(yard.phone.inspect("B1-009", edge="fail", disposition="scrap"))
    issue(yard)
    page = drop_random(yard.client.get(f"{address}/recheck"))
    assert "B1-003" in page and "B1-009" not in page
    assert "A01" not in page and "Ano" not in page
    assert yard.client.get(f"{make_address(yard)[:-1]}x/recheck").status_code == 404
