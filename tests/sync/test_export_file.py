"""Export files: the same events, outcomes and photos as over the network,
as often as you like.
"""

import base64
import gzip
import hashlib
import io
import json
import re
import tracemalloc

import pytest

from qcapp.errors import BadInput, TooLarge
from qcapp.store import log
from qcapp.store.registry.checklists import load_checklists
from qcapp.sync.export_file import parse_export_file
from qcapp.sync.import_file import import_export_file
from qcapp.sync.protocol import MAX_FILE_BYTES
from qcapp.sync.quarantine_reasons import UNKNOWN_ARTISAN
from tests.builders import NOW, Phone, build_small_checklist, open_yard
from tests.page_text import text_of
from tests.signing_phones import introduce, sign
from tests.store.test_projections import dump
from tests.sync.test_pull import OTHER
from tests.web.test_photos import HTML, JPEG, NAME, make_exif, make_jpeg

pytestmark = pytest.mark.slow


@pytest.fixture
def yard():
    yard = open_yard()
    introduce(yard.store, OTHER, NOW)
    return yard


def pack_photo(content, name=None):
    return {
        "sha256": name or hashlib.sha256(content).hexdigest(),
        "type": "image/jpeg",
        "base64": base64.b64encode(content).decode(),
    }


def _is_sealed(event):
    return isinstance(event, dict) and isinstance(event.get("hash"), str)


def build_file(*events, **more):
    file = {
        "format": "records/1",
        "device_id": OTHER,
        "made_at": "2026-11-25T08:00:00.000Z",
        "events": list(events),
        "signatures": [sign(event) if _is_sealed(event) else None for event in events],
        "definitions": [],
        "photos": [],
    }
    return json.dumps({**file, **more}).encode()


def take(yard, content):
    return import_export_file(yard.store, parse_export_file(content), relayed_by="import", now=NOW)


def count_rows(yard):
    with yard.store.reading() as connection:
        return log.get_head(connection).seq


def test_file_has_the_same_outcomes_as_a_push(yard):
    phone = Phone(yard.checklist, OTHER)
    events = [
        phone.inspect("B1-001"),
        phone.inspect("B1-002", maker="A77"),
        7,
        phone.inspect("B1-003"),
    ]
    yard.push(events[3])
    result = take(yard, build_file(*events))
    assert result.counts == {"created": 1, "quarantined": 2, "duplicate": 1} and result.events == 4
    assert next(one.reason for one in result.quarantined) == UNKNOWN_ARTISAN(names=["A77"])
    before = dump(yard.store), count_rows(yard)
    again = take(yard, build_file(*events))
    assert (
        again.counts == {"duplicate": 2, "quarantined": 2}
        and (dump(yard.store), count_rows(yard)) == before
    )


def test_more_events_than_one_call_takes_and_in_any_order(yard):
    phone = Phone(yard.checklist, OTHER)
    events = [phone.inspect(f"B1-{n:03}") for n in range(230)]
    assert take(yard, build_file(*reversed(events))).counts == {"created": 230}
    assert len(dump(yard.store)[0]) == 230
    with yard.store.reading() as connection:
        assert log.find_broken_link(connection) is None
        assert {row.relayed_by for row in [log.find_record(connection, n) for n in (1, 230)]} == {
            "import"
        }


def test_phone_that_meets_the_server_later_sees_duplicates(yard):
    events = [yard.phone.inspect("B1-001"), yard.phone.inspect("B1-002")]
    take(yard, build_file(*events))
    assert [one["outcome"] for one in yard.push(*events)["results"]] == ["duplicate", "duplicate"]


def test_definition_in_the_file_is_kept_and_its_records_wait_for_the_lead(yard):
    newer = build_small_checklist(revision=7)
    event = Phone(newer, OTHER).inspect("B1-001")
    definitions = [{"id": "nonsense"}] * 25 + [newer.compiled()]
    assert take(yard, build_file(event, definitions=definitions)).counts == {"quarantined": 1}
    with yard.store.reading() as connection:
        assert newer.hash in load_checklists(connection, [newer.hash])


def test_photos_go_through_the_same_checks_and_hinder_no_record(yard):
    camera = make_jpeg(exif=make_exif(0x010F, "maker"))
    bad = [
        pack_photo(HTML),
        pack_photo(camera),
        pack_photo(JPEG, "0" * 64),
        {"sha256": NAME, "base64": "%%%"},
        7,
        {"sha256": "x"},
        pack_photo(JPEG, "../x"),
    ]
    event = Phone(yard.checklist, OTHER).inspect("B1-001", photos=[NAME])
    result = take(yard, build_file(event, photos=[*bad, pack_photo(JPEG)]))
    assert result.counts == {"created": 1} and (result.photos_new, result.photos_known) == (1, 0)
    assert len(result.refused) == len(bad) and all(
        why.startswith("photo refused") for _name, why in result.refused
    )
    assert yard.client.get(f"/photos/{NAME}").content == JPEG
    again = take(yard, build_file(event, photos=[pack_photo(JPEG)]))
    assert (again.photos_new, again.photos_known, again.refused) == (0, 1, ())


def test_whole_photo_of_a_file_takes_the_place_of_pieces(yard):
    headers = {**yard.headers, "Upload-Length": str(len(JPEG)), "Upload-Offset": "0"}
    yard.client.patch(f"/api/photos/{NAME}", content=JPEG[:1000], headers=headers)
    assert take(yard, build_file(photos=[pack_photo(JPEG)])).photos_new == 1


def test_page_leads_to_each_record_that_is_held_back(yard):
    phone = Phone(yard.checklist, OTHER)
    good, strange = phone.inspect("B1-001"), phone.inspect("B1-002", maker="A77")
    page = yard.client.post("/yard/import", files={"file": ("a.txt", build_file(good))})
    assert page.status_code == 200 and "/yard/quarantine/" not in page.text
    page = yard.client.post("/yard/import", files={"file": ("a.txt", build_file(strange))})
    (address,) = re.findall(r'href="(/yard/quarantine/\d+)"', page.text)
    assert "A77" in yard.client.get(address).text


BAD_FILES = [
    (b"", "cut off"),
    (b"<html>", "cut off"),
    (build_file()[:-9], "cut off"),
    (b"[" * 100_000, "the app did not make"),
    (b"[]", "the app did not make"),
    (b'{"format": "records/1"}', "the app did not make"),
    (build_file(format="records/2"), "another version"),
    (build_file(format="other"), "the app did not make"),
    (build_file(events={"0": 1}), "the app did not make"),
    (build_file(events=[1], photos="none"), "the app did not make"),
    (b"\xff\xfe" + build_file(), "cut off"),
    (b"PK\x03\x04 some archive", "cut off"),
]


@pytest.mark.parametrize(("content", "says"), BAD_FILES)
def test_file_that_is_none_of_ours_is_refused_whole_everywhere(yard, content, says):
    with pytest.raises(BadInput) as caught:
        parse_export_file(content)
    assert says in caught.value.what and caught.value.todo
    by_phone = yard.client.post("/api/sync/import", content=content, headers=yard.headers)
    assert by_phone.status_code == 400 and says in by_phone.json()["error"]["what"]
    by_page = yard.client.post("/yard/import", files={"file": ("a.txt", content)})
    assert by_page.status_code == 400 and says in text_of(by_page).lower()
    assert count_rows(yard) == 0


def test_too_large_a_file_is_refused_before_it_is_read(yard, monkeypatch):
    with pytest.raises(TooLarge):
        parse_export_file(b" " * (MAX_FILE_BYTES + 1))
    for module in ("web.deps", "sync.export_file"):
        monkeypatch.setattr(f"qcapp.{module}.MAX_FILE_BYTES", 5000)
    content = build_file(*[yard.phone.inspect(f"B1-{n:03}") for n in range(20)])
    assert (
        yard.client.post("/api/sync/import", content=content, headers=yard.headers).status_code
        == 413
    )
    assert (
        yard.client.post("/yard/import", files={"file": ("a.txt", content * 3)}).status_code == 413
    )
    assert count_rows(yard) == 0


def test_form_without_a_length_is_read_and_one_without_a_file_is_refused(yard):
    parts = iter(
        [
            b"--x\r\n",
            b'Content-Disposition: form-data; name="file"; filename="a"\r\n\r\n{}\r\n--x--\r\n',
        ]
    )
    headers = {"Content-Type": "multipart/form-data; boundary=x"}
    answer = yard.client.post("/yard/import", content=parts, headers=headers)
    assert answer.status_code == 400 and "the app did not make" in text_of(answer).lower()
    assert yard.client.post("/yard/import", data={"file": "text"}).status_code == 422
    answer = yard.client.post("/yard/import")
    assert answer.status_code == 400 and "no file was chosen" in text_of(answer).lower()


def test_gzip_is_taken_and_a_bomb_is_not(yard):
    headers = {**yard.headers, "Content-Encoding": "gzip"}
    content = gzip.compress(build_file(yard.phone.inspect("B1-001")))
    assert yard.client.post("/api/sync/import", content=content, headers=headers).json()[
        "counts"
    ] == {"created": 1}
    packed = io.BytesIO()
    with gzip.GzipFile(fileobj=packed, mode="wb", compresslevel=9) as stream:
        for _ in range(300):
            stream.write(b" " * 1_000_000)
    tracemalloc.start()
    try:
        assert (
            yard.client.post(
                "/api/sync/import", content=packed.getvalue(), headers=headers
            ).status_code
            == 413
        )
        assert tracemalloc.get_traced_memory()[1] < 3 * MAX_FILE_BYTES
    finally:
        tracemalloc.stop()


def test_only_a_joined_phone_may_hand_over_and_its_note_stays(yard):
    assert yard.client.post("/api/sync/import", content=build_file()).status_code == 401
    yard.push(
        yard.phone.inspect("B1-001"),
        device={
            "id": yard.phone.device_id,
            "created": 4,
            "acked": 0,
            "clock": "2026-11-25T09:00:00.000Z",
        },
    )
    answer = yard.client.post(
        "/api/sync/import",
        content=build_file(Phone(yard.checklist, OTHER).inspect("B1-002")),
        headers=yard.headers,
    )
    assert answer.json()["counts"] == {"created": 1} and answer.json()["quarantined"] == []
    with yard.store.reading() as connection:
        row = log.find_record(connection, 2)
        assert (row.device_id, row.relayed_by) == (OTHER, yard.phone.device_id)
    page = text_of(yard.client.get("/yard"))
    assert "1 of 4 3 2026-11-25 09:00 UTC on time" in page


def test_page_shows_counts_and_leads_to_what_is_quarantined(yard):
    phone = Phone(yard.checklist, OTHER)
    content = build_file(
        phone.inspect("B1-001"), phone.inspect("B1-002", maker="A77"), photos=[pack_photo(HTML)]
    )
    page = yard.client.post("/yard/import", files={"file": ("unsent.txt", content)})
    said = text_of(page)
    assert (
        "2 records in the file" in said
        and "1 new" in said
        and "1 stored, but held back" in said
        and "not a JPEG" in said
    )
    assert 'href="/yard/quarantine/2"' in page.text
    assert "/yard/import" in yard.client.get("/yard").text


def test_events_nested_deeply_are_kept_or_refused_but_never_break_the_server(yard):
    for depth in (50, 400, 900, 985, 995, 1100):
        content = (
            build_file()[:-1].replace(
                b'"events": []', b'"events": [' + b"[" * depth + b"]" * depth + b"]"
            )
            + b"}"
        )
        answer = yard.client.post("/api/sync/import", content=content, headers=yard.headers)
        assert answer.status_code in (200, 400), depth
