"""Photos arrive piece by piece under the name of their content, and only as plain JPEGs."""

import hashlib
import io

import pytest
from PIL import Image

from qcapp.store.registry import photos
from qcapp.sync.image import EMPTY_CAPTION, LONGEST_PX, find_image_error
from qcapp.sync.photo_refusals import REFUSALS
from tests.builders import open_yard


def make_jpeg(width=320, height=240, **more) -> bytes:
    out = io.BytesIO()
    Image.effect_noise((width, height), 90).convert("RGB").save(out, "JPEG", quality=60, **more)
    return out.getvalue()


def make_exif(tag=None, value=None, place=None) -> bytes:
    exif = Image.Exif()
    exif[0x0112] = 1
    exif.get_ifd(0x8769)[0xA002] = 640
    if place:
        exif.get_ifd(0x8825)[2] = place
    if tag:
        exif[tag] = value
    return exif.tobytes()


def segment(marker: int, payload: bytes) -> bytes:
    return bytes([0xFF, marker]) + (len(payload) + 2).to_bytes(2) + payload


def without_tables(content: bytes) -> bytes:
    """The same picture without its quantization tables: every segment is in order,
    but nothing can decode it.
    """
    while (at := content.find(b"\xff\xdb")) > 0:
        content = content[:at] + content[at + 2 + int.from_bytes(content[at + 2 : at + 4]) :]
    return content


JPEG = make_jpeg()
WHOLE = len(JPEG)
NAME = hashlib.sha256(JPEG).hexdigest()
SVG = b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>'
HTML = b"<!doctype html><script>alert(1)</script>"


@pytest.fixture
def yard():
    return open_yard()


def send(yard, piece, offset, *, size=WHOLE, name=NAME):
    headers = {**yard.headers, "Upload-Length": str(size), "Upload-Offset": str(offset)}
    return yard.client.patch(f"/api/photos/{name}", content=piece, headers=headers)


def send_whole(yard, content):
    return send(yard, content, 0, size=len(content), name=hashlib.sha256(content).hexdigest())


def name_in_a_record(yard, *names):
    event = yard.phone.inspect("B1-001", photos=list(names))
    assert yard.push(event)["results"][0]["outcome"] == "created"


def kept_length(yard, name=NAME):
    return int(
        yard.client.head(f"/api/photos/{name}", headers=yard.headers).headers["upload-offset"]
    )


def test_pieces_make_the_whole_and_repeats_are_harmless(yard):
    name_in_a_record(yard, NAME)
    assert kept_length(yard) == 0
    assert send(yard, JPEG[:5_000], 0).headers["upload-offset"] == "5000"
    assert yard.client.get(f"/photos/{NAME}").status_code == 404
    wrong = send(yard, JPEG[:5_000], 0)
    assert wrong.status_code == 409 and wrong.headers["upload-offset"] == "5000"
    assert send(yard, JPEG[5_000:], 5_000).status_code == 204
    assert send(yard, JPEG[5_000:], 5_000).headers["upload-offset"] == str(len(JPEG))
    assert yard.client.get(f"/photos/{NAME}").content == JPEG


def test_photo_is_shown_with_headers_that_make_it_nothing_but_a_picture(yard):
    name_in_a_record(yard, NAME)
    send_whole(yard, JPEG)
    for address, headers in ((f"/photos/{NAME}", {}), (f"/api/photos/{NAME}", yard.headers)):
        shown = yard.client.get(address, headers=headers)
        assert shown.content == JPEG and shown.headers["content-type"] == "image/jpeg"
        assert shown.headers["x-content-type-options"] == "nosniff"
        assert shown.headers["content-security-policy"] == "default-src 'none'; sandbox"
        assert shown.headers["content-disposition"] == f'inline; filename="{NAME[:12]}.jpg"'
        assert shown.headers["cache-control"] == "no-store"


def test_phone_without_a_token_sees_and_sends_nothing(yard):
    name_in_a_record(yard, NAME)
    send_whole(yard, JPEG)
    for call in (yard.client.head, yard.client.get, yard.client.patch):
        headers = {"Upload-Length": "3", "Upload-Offset": "0"}
        assert call(f"/api/photos/{NAME}", headers=headers).status_code == 401


def test_photo_that_no_record_names_is_shown_to_nobody(yard):
    assert send_whole(yard, JPEG).status_code == 204
    for address in (f"/photos/{NAME}", f"/api/photos/{NAME}"):
        answer = yard.client.get(address, headers=yard.headers)
        assert answer.status_code == 404 and "no record names" in answer.json()["error"]["what"]
    name_in_a_record(yard, NAME)
    assert yard.client.get(f"/photos/{NAME}").status_code == 200


def test_photo_named_by_a_record_set_aside_or_in_an_answer_is_shown(yard):
    event = yard.phone.inspect("B1-001")
    event["body"]["answers"]["dents"]["photos"] = [NAME]
    sealed = yard.phone.seal("inspection", "B1-001", event["body"], batch="B9")
    assert yard.push(sealed)["results"][0]["outcome"] == "quarantined"
    send_whole(yard, JPEG)
    assert yard.client.get(f"/photos/{NAME}").status_code == 200


def test_content_that_does_not_hash_to_its_name_starts_again(yard):
    other = make_jpeg(160, 120)
    answer = send(yard, other, 0, size=len(other))
    assert answer.headers["upload-offset"] == "0" and kept_length(yard) == 0
    assert send_whole(yard, JPEG).headers["upload-offset"] == str(len(JPEG))


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (SVG, "not a JPEG"),
        (HTML, "not a JPEG"),
        (b"GIF89a" + HTML, "not a JPEG"),
        (JPEG + HTML, "hidden behind"),
        (JPEG + JPEG, "hidden behind"),
        (JPEG[:2] + segment(0xFE, HTML) + JPEG[2:], "text or data"),
        (
            JPEG[:2] + segment(0xE1, b"http://ns.adobe.com/xap/1.0/\0<x:xmpmeta/>") + JPEG[2:],
            "text or data",
        ),
        (JPEG[:2] + segment(0xED, EMPTY_CAPTION + b"name") + JPEG[2:], "text or data"),
        (JPEG[:2] + segment(0xE0, b"JFXX\0\x10thumbnail") + JPEG[2:], "text or data"),
        (JPEG[:2] + segment(0xE2, b"MPF\0more pictures") + JPEG[2:], "text or data"),
        (JPEG[:-2], "cut off"),
        (JPEG[: len(JPEG) // 2], "cut off"),
        (without_tables(JPEG), "damaged"),
        (b"\xff\xd8\xff", "cut off"),
        (b"\xff\xd8\xff\xd9", "not one plain picture"),
        (make_jpeg(exif=make_exif(0x010F, "camera maker")), "EXIF"),
        (make_jpeg(exif=make_exif(place=(6.0, 30.0, 0.0))), "EXIF"),
        (make_jpeg(LONGEST_PX + 8, 8), "pixels"),
    ],
)
def test_what_is_no_plain_photo_is_refused_with_words_and_dropped(yard, content, says):
    answer = send_whole(yard, content)
    assert answer.status_code == 400 and says in answer.json()["error"]["what"], answer.json()
    assert "phone keeps it" in answer.json()["error"]["todo"]
    reason = answer.json()["error"]["reason"]
    assert reason["code"] in REFUSALS and says in REFUSALS.word_json(reason)
    name = hashlib.sha256(content).hexdigest()
    name_in_a_record(yard, name)
    assert kept_length(yard, name) == 0 and yard.client.get(f"/photos/{name}").status_code == 404


@pytest.mark.parametrize(
    "content",
    [
        make_jpeg(progressive=True),
        make_jpeg(exif=make_exif()),
        make_jpeg(icc_profile=b"x" * 3000),
        JPEG[:2] + segment(0xED, EMPTY_CAPTION) + JPEG[2:],
    ],
    ids=["progressive", "form-only-exif", "profile", "empty-caption"],
)
def test_what_browsers_write_into_a_picture_is_taken(content):
    assert find_image_error(content) is None


@pytest.mark.parametrize("cut", range(0, len(JPEG), len(JPEG) // 40))
def test_every_cut_is_noticed(cut):
    assert find_image_error(JPEG[:cut])


def test_refused_photo_does_not_hinder_records_or_other_photos(yard):
    name_in_a_record(yard, NAME)
    assert send_whole(yard, SVG).status_code == 400
    assert send_whole(yard, JPEG).status_code == 204
    assert yard.push(yard.phone.inspect("B1-002"))["results"][0]["outcome"] == "created"


def test_too_large_unnamed_or_badly_announced_is_refused(yard):
    answer = send(yard, b"abc", 0, size=10_000_000)
    assert answer.status_code == 400 and str(photos.MAX_BYTES) in answer.json()["error"]["todo"]
    assert send(yard, b"abc", 0, size=2).status_code == 400
    assert send(yard, b"abc", 0, size=3, name="../x").status_code in (400, 404)
    assert send(yard, b"abc", 0, size=3, name="A" * 64).status_code == 400
    headers = {**yard.headers, "Upload-Length": "-1", "Upload-Offset": "0"}
    assert (
        yard.client.patch(f"/api/photos/{NAME}", content=b"x", headers=headers).status_code == 422
    )


def test_more_bytes_than_announced_keep_the_pieces_before(yard):
    send(yard, JPEG[:1000], 0)
    assert send(yard, JPEG[1000:] + b"more", 1000).status_code == 400
    assert kept_length(yard) == 1000


def test_page_says_on_its_way_until_the_photo_is_whole(yard):
    event = yard.phone.inspect("B1-001", width="106", disposition="rework", maker="A02")
    event["body"]["answers"]["door-opening-width"]["photos"] = [NAME]
    yard.push(yard.phone.seal("inspection", "B1-001", event["body"], photos=[NAME]))
    before = yard.client.get("/trainer/artisans/A02").text
    assert "Photo on its way" in before and f"/photos/{NAME}" not in before
    send_whole(yard, JPEG)
    after = yard.client.get("/trainer/artisans/A02").text
    assert "Photo on its way" not in after and f'src="/photos/{NAME}"' in after
