"""Attacks by size: one request, or one phone, costs a bounded part of memory and disk."""

import gzip
import hashlib
import io
import json
import re
import time
import urllib.error
import urllib.request
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from PIL import Image

from qcapp.access.devices import join_device, make_join_code
from qcapp.errors import TooMany
from qcapp.settings import Settings
from qcapp.store import log
from qcapp.store.registry import intake
from qcapp.sync import allowance, foreign_picture
from qcapp.sync.foreign_picture import UnreadablePictureError, read_picture
from qcapp.sync.image import find_image_error
from qcapp.usecases import take_in_file
from qcapp.web import deps
from tests.bench.server import read_resident_mb
from tests.builders import (
    NOW,
    Phone,
    build_push,
    build_small_checklist,
    open_small_store,
    open_yard,
)
from tests.e2e.server import YardServer
from tests.page_text import text_of
from tests.routes import RULES
from tests.sync.test_export_file import build_file, count_rows, pack_photo
from tests.web.test_photos import make_jpeg

pytestmark = pytest.mark.both_engines
# Of a body that is more than a text.
LARGE = 4_000_000
# Whose body is no form.
RAW = "/api/sync/import"
FORMS_WITH_FILES = [one for one in RULES if one.max_bytes > LARGE and one.path != RAW]
OTHER = "0197f000-0000-7000-8000-0000000000bb"


@pytest.fixture
def yard():
    return open_yard()


def send_file(yard, content, **headers):
    return yard.client.post(
        "/api/sync/import", content=content, headers={**yard.headers, **headers}
    )


@pytest.mark.parametrize(
    "events",
    [
        b"[" + b"[],".ljust(3) * 30_000 + b"[]]",
        b'[{"a":[' + b"{}," * 100_000 + b"{}]}]",
        b"[" + b"7," * 60_000 + b"7]",
        b'["' + b"x" * 200_000 + b'"]',
    ],
    ids=["lists", "one huge event", "numbers", "one long text"],
)
def test_file_of_countless_elements_is_refused_before_any_is_kept(yard, events):
    content = build_file()[:-1] + b', "events": ' + events + b"}"
    answer = send_file(yard, gzip.compress(content), **{"Content-Encoding": "gzip"})
    assert answer.status_code in (400, 413)
    assert "nothing was imported" in answer.text or "over the network" in answer.text
    assert count_rows(yard) == 0


def test_photo_of_a_file_that_is_no_three_texts_is_refused(yard):
    content = build_file()[:-1] + b', "photos": [{"sha256": [' + b"[]," * 9000 + b"[]]}]}"
    assert send_file(yard, content).status_code == 400


def test_second_file_waits_while_one_is_taken_in(yard):
    with take_in_file.TURN:
        answer = send_file(yard, build_file())
        page = yard.client.post("/yard/import", files={"file": ("a.txt", build_file())})
    assert (answer.status_code, answer.headers["retry-after"]) == (429, "30")
    assert page.status_code == 429 and "Another file" in text_of(page)
    assert send_file(yard, build_file()).status_code == 200
    assert send_file(yard, b"no file").status_code == 400
    # A file that was refused leaves the turn to the next one.
    assert send_file(yard, build_file()).status_code == 200


def test_phone_that_sends_a_file_slowly_keeps_no_other_waiting(yard):
    """A body may take half an hour; meanwhile nobody's file was taken."""
    with deps.SPOOLS[OTHER]:
        assert send_file(yard, build_file()).status_code == 200
    with deps.SPOOLS[yard.phone.device_id]:
        assert send_file(yard, build_file()).status_code == 429


def test_phone_that_sends_more_than_a_days_allowance_is_told_to_keep_it(yard, monkeypatch):
    monkeypatch.setattr(allowance, "MAX_RECORDS", 5)
    events = [yard.phone.inspect(f"B1-{n:03}") for n in range(8)]
    results = yard.push(*events)["results"]
    assert [one["outcome"] for one in results] == ["created"] * 5 + ["retry"] * 3
    assert results[-1]["reason"]["code"] == "over_allowance" and results[-1]["seq"] is None
    # What is here already is no news, and costs nothing.
    again = yard.push(*events[:5])["results"]
    assert [one["outcome"] for one in again] == ["duplicate"] * 5
    assert count_rows(yard) == 5
    # By a file it is the same phone, and another phone has its own.
    assert send_file(yard, build_file(events[5])).json()["counts"] == {"retry": 1}
    other = Phone(yard.checklist, OTHER)
    headers = yard.pair(OTHER)
    sent = yard.client.post(
        "/api/sync/push", json=build_push([other.inspect("B1-009")]), headers=headers
    )
    assert sent.json()["results"][0]["outcome"] == "created"
    # The next day the rest arrives.
    yard.client.app.state.clock = lambda: NOW + timedelta(days=1)
    assert [one["outcome"] for one in yard.push(*events[5:])["results"]] == ["created"] * 3
    with yard.store.reading() as connection:
        day = (NOW + timedelta(days=1)).date().isoformat()
        assert intake.find_taken(connection, yard.phone.device_id, day).records == 3


def test_bytes_of_records_and_photos_come_out_of_one_allowance(yard, monkeypatch):
    monkeypatch.setattr(allowance, "MAX_BYTES", 3000)
    first = yard.push(*(yard.phone.inspect(f"B1-{n:03}") for n in range(5)))["results"]
    assert {one["outcome"] for one in first} == {"created", "retry"}
    photo = make_jpeg()
    name = pack_photo(photo)["sha256"]
    headers = {**yard.headers, "Upload-Length": str(len(photo)), "Upload-Offset": "0"}
    answer = yard.client.patch(f"/api/photos/{name}", content=photo, headers=headers)
    assert answer.status_code == 429 and "tomorrow" in answer.text
    # NOW is nine o'clock: until midnight.
    assert int(answer.headers["retry-after"]) == 15 * 3600 + 1


def test_checklists_that_a_phone_brings_come_out_of_its_allowance(yard, monkeypatch):
    """Each is a row for ever, of as much as a push may hold."""
    monkeypatch.setattr(allowance, "MAX_RECORDS", 5)
    brought = [build_small_checklist(n).compiled() for n in range(2, 12)]
    yard.push(definitions=brought)
    yard.push(definitions=brought)
    with yard.store.reading() as connection:
        count = "SELECT count(*) FROM revision WHERE origin = 'phone'"
        assert connection.exec_driver_sql(count).scalar() == 5
        day = NOW.date().isoformat()
        assert intake.find_taken(connection, yard.phone.device_id, day).bytes > 5000


def upload(yard, n):
    photo = make_jpeg(16 + n, 16)
    name = pack_photo(photo)["sha256"]
    headers = {**yard.headers, "Upload-Length": str(len(photo)), "Upload-Offset": "0"}
    return name, yard.client.patch(f"/api/photos/{name}", content=photo, headers=headers)


def test_photos_that_no_record_names_are_few_and_go_after_a_week(yard, monkeypatch):
    monkeypatch.setattr(allowance, "MAX_NAMELESS", 3)
    sent = [upload(yard, n) for n in range(4)]
    assert [answer.status_code for _name, answer in sent] == [204, 204, 204, 429]
    # One that a record names is none of them, whatever came first.
    yard.push(yard.phone.inspect("B1-001", photos=[sent[0][0]]))
    assert upload(yard, 4)[1].status_code == 204
    assert upload(yard, 5)[1].status_code == 429
    yard.client.app.state.clock = lambda: NOW + timedelta(days=8)
    name, answer = upload(yard, 6)
    assert answer.status_code == 204
    with yard.store.reading() as connection:
        rows = connection.exec_driver_sql("SELECT sha256 FROM photo").scalars().all()
    assert set(rows) == {sent[0][0], name}


def test_record_that_names_countless_photos_makes_few_rows(yard):
    names = [f"{n:064x}" for n in range(200)]
    event = {
        "id": "x",
        "kind": "inspection",
        "photos": names[:50],
        "answers": {"photos": names[50:]},
    }
    yard.push(event)
    with yard.store.reading() as connection:
        count = connection.exec_driver_sql("SELECT count(*) FROM photo_name").scalar()
    assert count == 100 and count_rows(yard) == 1


def test_junk_of_one_phone_is_rejected_at_once_with_a_trail(yard):
    junk = [{"id": f"junk-{n}", "kind": "inspection"} for n in range(60)]
    yard.push(*junk)
    yard.push(yard.phone.inspect("B1-001", maker="A77"))
    page = yard.client.get("/yard/quarantine").text
    assert page.count("<details>") == 1 and "Reject all 60 records that came by Phone" in page
    form = {"sender": yard.phone.device_id, "code": "wrong_form", "last": "60"}
    refused = yard.client.post("/yard/quarantine", data={**form, "reason": ""})
    assert refused.status_code == 422
    yard.push({"id": "junk-late", "kind": "inspection"})
    done = yard.client.post("/yard/quarantine", data={**form, "reason": "phone was stolen"})
    assert done.status_code == 200
    said = text_of(done)
    # What came after the page was shown waits, and so does what has another reason.
    assert "Waiting for a decision: 2" in said and "phone was stolen" in said
    trail = text_of(yard.client.get("/yard/trail"))
    assert "rejected all records of one phone" in trail and "60" in trail
    with yard.store.reading() as connection:
        assert len(log.list_by_kind(connection, "quarantine_decision")) == 60


def test_honest_file_of_a_month_fits():
    """600 stoves a day is a stove a minute for ten hours."""
    assert allowance.MAX_RECORDS >= 8 * 600
    assert len(json.dumps(Phone(open_yard().checklist).inspect("B1-001"))) < 16_384


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    "rule", [one for one in RULES if one.max_bytes > LARGE and one.path != RAW], ids=str
)
def test_form_that_brings_large_files_brings_few_texts(yard, rule):
    """Texts are held in memory: 16 times 28 MB of them took four times what an idle server has, and
    a link made up was enough to send them.
    """
    path = re.sub("{[^}]*}", "x", rule.path)
    for texts in ({"a": "x" * 9000}, {f"a{n}": "x" for n in range(301)}):
        few = {name: (None, text) for name, text in texts.items()}
        answer = yard.client.post(path, files=few)
        assert answer.status_code == 400 and re.search("exceeded|Too many", answer.text), path


def build_jpeg(width, height, **more):
    stream, how = io.BytesIO(), {"subsampling": 0, **more}
    Image.new("RGB", (width, height), (9, 99, 9)).save(stream, "JPEG", **how)
    return stream.getvalue()


def build_picture(width, height, kind, mode="RGB"):
    stream = io.BytesIO()
    Image.new(mode, (width, height)).save(stream, kind, **({"method": 0} if kind == "WEBP" else {}))
    return stream.getvalue()


@pytest.mark.sqlite_only
def test_photo_in_several_scans_may_have_fewer_pixels():
    """The decoder holds all of one, at six bytes a pixel."""
    error = find_image_error(build_jpeg(2049, 900, progressive=True))
    assert error is not None and error.params["most"] == 2048
    for taken in (build_jpeg(2048, 900, progressive=True), build_jpeg(4096, 900)):
        assert find_image_error(taken) is None


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("content", "is_taken"),
    [
        (build_jpeg(4000, 3000), True),
        (build_jpeg(4000, 3000, progressive=True), False),
        (build_picture(2800, 2800, "PNG", "RGBA"), True),
        (build_picture(4000, 2100, "PNG"), False),
        (build_picture(2900, 2900, "WEBP"), False),
    ],
    ids=["camera", "progressive", "screenshot", "png", "webp"],
)
def test_picture_that_must_be_held_whole_may_have_fewer_pixels(content, is_taken):
    if is_taken:
        assert max(read_picture(io.BytesIO(content), 1280).size) <= 1280
    else:
        with pytest.raises(UnreadablePictureError):
            read_picture(io.BytesIO(content), 1280)


@pytest.mark.sqlite_only
def test_pictures_are_decoded_one_at_a_time_and_a_late_one_is_told_to_wait(monkeypatch):
    monkeypatch.setattr(foreign_picture, "WAIT_S", 0.05)
    running, most = [], []

    def decode():
        running.append(1)
        most.append(len(running))
        time.sleep(0.02)
        running.pop()

    with ThreadPoolExecutor(8) as pool:
        turns = [pool.submit(foreign_picture.decode_alone, decode) for _ in range(8)]
        errors = [turn.exception() for turn in turns]
    assert max(most) == 1 and None in errors
    assert {type(error) for error in errors if error} == {TooMany}


def read_peak_mb(pid: int) -> float:
    """The most that the process ever held, in megabytes of 10^6 bytes (Linux)."""
    lines = Path(f"/proc/{pid}/status").read_text().splitlines()
    return next(int(line.split()[1]) * 1024 / 1e6 for line in lines if line.startswith("VmHWM"))


def pack_lists(size: int) -> bytes:
    """A file whose events are empty lists, as many as fill so many bytes; packed 1 : 1000."""
    return gzip.compress(build_file()[:-1] + b', "events": [' + b"[]," * (size // 3) + b"[]]}")


def build_attacks(device_id: str) -> dict[str, tuple[str, bytes, dict[str, str]]]:
    """{name: (path, body, headers)}."""
    packed = {"Content-Encoding": "gzip"}
    lists = b'{"protocol":1,"request_id":"r","events":[' + b"[]," * 80_000 + b"[]]}"
    photo = b'{"sha256":"' + b"0" * 64 + b'","base64":"' + b"A" * 2_600_000 + b'"}'
    photos = b",".join([photo] * 8)
    zeros = gzip.compress(b" " * 200_000_000, 9)
    return {
        "a sign-in": ("/sign-in", b"code=NOBODY&password=wrong-password", FORM),
        "lists in a file": ("/api/sync/import", pack_lists(60_000_000), packed),
        "200 MB of nothing": ("/api/sync/import", zeros, packed),
        "200 MB of nothing as a push": ("/api/sync/push", zeros, packed),
        "photos": (
            "/api/sync/import",
            build_file()[:-1] + b', "photos": [' + photos + b"]}",
            {},
        ),
        "a push of lists": ("/api/sync/push", lists, {}),
        "a large form": ("/sign-in", b"code=" + b"x" * 260_000, FORM),
        "texts behind a link made up": (
            f"/s/{'A' * 43}/recheck/stove",
            build_form({f"f{n}": b"x" * 1_000_000 for n in range(28)}, {}),
            PARTS,
        ),
        "files behind a link made up": (
            f"/s/{'A' * 43}/recheck/stove",
            build_form({"number": b"1"}, {f"f{n}": b"x" * 7_000_000 for n in range(4)}),
            PARTS,
        ),
    }


PARTS = {
    "Content-Type": "multipart/form-data; boundary=bbbb",
    "Sec-Fetch-Site": "same-origin",
}
FORM = {"Content-Type": "application/x-www-form-urlencoded", "Sec-Fetch-Site": "same-origin"}
AT_ONCE = 16
PART = (
    '--bbbb\r\nContent-Disposition: form-data; name="{}"{}\r\n\r\n',
    "\r\n",
    "--bbbb--\r\n",
)


def build_form(texts: Mapping[str, bytes], files: Mapping[str, bytes]) -> bytes:
    begin, after, end = PART
    parts = [begin.format(name, "").encode() + text for name, text in texts.items()]
    parts += [
        begin.format(name, '; filename="a"').encode() + content for name, content in files.items()
    ]
    return b"".join(part + after.encode() for part in parts) + end.encode()


def build_photo_uploads() -> list[tuple[str, bytes, dict[str, str]]]:
    """As many pixels as are taken, at once and in several scans, each of 20 to 140 kB."""
    photos = [build_jpeg(4096 - n, 2900, subsampling=2) for n in range(AT_ONCE // 2)]
    photos += [build_jpeg(2048 - n, 2048, progressive=True) for n in range(AT_ONCE // 2)]
    return [
        (
            f"/api/photos/{hashlib.sha256(photo).hexdigest()}",
            photo,
            {"Upload-Length": str(len(photo)), "Upload-Offset": "0"},
        )
        for photo in photos
    ]


@pytest.mark.slow
@pytest.mark.sqlite_only
def test_memory_under_every_attack_by_size_stays_under_twice_that_of_an_idle_server(tmp_path):
    url = f"sqlite:///{tmp_path / 'yard.db'}"
    store, _checklist = open_small_store(tmp_path / "yard.db")
    code = make_join_code(store, name="Phone", minutes=15, now=datetime.now(UTC))
    token = join_device(store, code=code, device_id=OTHER, now=datetime.now(UTC)).token
    store.close()
    peaks = {}
    with YardServer(Settings(database_url=url), tmp_path) as server:
        urllib.request.urlopen(f"{server.address}/sign-in", timeout=30).read()
        idle = read_resident_mb(server.process.pid)
        for name, (path, body, headers) in build_attacks(OTHER).items():
            sent = {"Authorization": f"Bearer {token}", **headers}
            with ThreadPoolExecutor(AT_ONCE) as pool:
                for _ in range(AT_ONCE if path != "/api/sync/import" else 2):
                    pool.submit(send_raw, f"{server.address}{path}", body, sent)
            peaks[name] = read_peak_mb(server.process.pid)
        phone = {"Authorization": f"Bearer {token}"}
        with ThreadPoolExecutor(AT_ONCE) as pool:
            sent = [
                pool.submit(
                    send_raw, f"{server.address}{path}", body, {**headers, **phone}, "PATCH"
                )
                for path, body, headers in build_photo_uploads()
            ]
        assert {one.result() for one in sent} == {204}
        peaks["photos of many pixels"] = read_peak_mb(server.process.pid)
        assert urllib.request.urlopen(f"{server.address}/sign-in", timeout=30).status == 200
    print(f"idle {idle:.0f} MB", {name: round(peak) for name, peak in peaks.items()})
    assert max(peaks.values()) < 2 * idle, peaks


def send_raw(address: str, body: bytes, headers: dict[str, str], method: str = "POST") -> int:
    request = urllib.request.Request(address, body, headers, method=method)
    try:
        with urllib.request.urlopen(request, timeout=60) as answer:
            return answer.status
    except urllib.error.HTTPError as error:
        error.close()
        return error.code
    except OSError:
        # The server closed the connection before it had read all.
        return 0
