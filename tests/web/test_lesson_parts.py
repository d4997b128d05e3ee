"""Pictures and voice notes of a step's lesson: told by their bytes, small, with who and when."""

import hashlib
import re
from io import BytesIO

import pytest
from PIL import Image

from qcapp.inspection.lesson_parts import MAX_PICTURE_BYTES, MAX_VOICE_BYTES
from qcapp.store.queries.lesson_queries import list_parts_of_step
from qcapp.store.registry.lesson_media import find_media
from qcapp.sync import reference
from qcapp.sync.reference import build_hello, build_reference
from tests.builders import NOW, make_cookie, open_client, open_yard
from tests.page_text import text_of

pytestmark = pytest.mark.both_engines
STEP = "/trainer/steps/small-stove/cut-door-opening"
SVG = b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><path d="M1 1h7"/></svg>'
EBML = b"\x1a\x45\xdf\xa3\x9f\x42\x82\x84webm" + b"\0" * 60
WEBM = EBML + b"\x86\x86A_OPUS\x63\xa2\x93OpusHead" + b"\0" * 2000
OGG = b"OggS\0\x02" + b"\0" * 22 + b"OpusHead\x01\x01" + b"\0" * 500


def draw_noise(kind, size=(1600, 1200)):
    """What packs worst."""
    stream = BytesIO()
    Image.effect_noise(size, 90).convert("RGB").save(stream, kind)
    return stream.getvalue()


@pytest.fixture
def yard():
    found = open_yard()
    found.push(found.phone.inspect("B1-001", width="120", disposition="rework"))
    return found


def add(yard, content, caption="Cut inside the line", name="x.exe", kind="text/html"):
    files = {"file": (name, content, kind)}
    return yard.client.post(f"{STEP}/pictures", files=files, data={"caption": caption})


def put_voice(yard, content):
    return yard.client.post(f"{STEP}/voice", files={"file": ("v", content, "text/html")})


def list_parts(yard):
    with yard.store.reading() as connection:
        return list_parts_of_step(connection, "cut-door-opening")


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_picture_is_made_small_and_kept_by_its_hash(yard, kind):
    assert add(yard, draw_noise(kind)).status_code == 200
    (part,) = list_parts(yard)
    assert (part.kind, part.caption, part.by) == ("picture", "Cut inside the line", "LEAD")
    answer = yard.client.get(f"/lesson-media/{part.sha256}")
    assert answer.headers["content-type"] == "image/webp"
    assert hashlib.sha256(answer.content).hexdigest() == part.sha256
    assert 1000 < len(answer.content) == part.size <= MAX_PICTURE_BYTES
    with Image.open(BytesIO(answer.content)) as picture:
        assert max(picture.size) >= 320 and not picture.getexif()
    assert "Cut inside the line" in text_of(yard.client.get(STEP))


def test_drawing_is_kept_as_it_is_and_runs_nothing(yard):
    add(yard, SVG)
    answer = yard.client.get(f"/lesson-media/{list_parts(yard)[0].sha256}")
    assert answer.content == SVG and answer.headers["content-type"] == "image/svg+xml"
    assert "sandbox" in answer.headers["content-security-policy"]


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"GIF89a" + b"\0" * 99,
        b"<html><script>alert(1)</script></html>",
        SVG.replace(b"<path", b"<script>1</script><path"),
        SVG.replace(b"<path", b'<image href="https://example.org/x.png"/><path'),
        SVG.replace(b"<path", b"<!--" + b"x" * MAX_PICTURE_BYTES + b"--><path"),
        draw_noise("JPEG")[:5000],
        WEBM,
    ],
    ids=["empty", "gif", "html", "script", "loads", "large", "cut", "voice"],
)
def test_what_is_no_picture_is_refused(yard, content):
    assert add(yard, content).status_code == 400
    assert list_parts(yard) == []


def test_five_pictures_and_no_more(yard):
    for n in range(5):
        assert add(yard, SVG.replace(b"h7", b"h%d" % n), caption=f"No {n}").status_code == 200
    assert add(yard, SVG).status_code == 400
    assert [part.caption for part in list_parts(yard)] == [f"No {n}" for n in range(5)]
    assert add(yard, SVG, caption="").status_code == 400


@pytest.mark.parametrize(("content", "kind"), [(WEBM, "audio/webm"), (OGG, "audio/ogg")])
def test_voice_note_is_told_by_its_bytes_and_replaces_the_one_before(yard, content, kind):
    put_voice(yard, OGG + b"before")
    (before,) = list_parts(yard)
    assert put_voice(yard, content).status_code == 200
    (part,) = list_parts(yard)
    answer = yard.client.get(f"/lesson-media/{part.sha256}")
    assert (answer.headers["content-type"], answer.content) == (kind, content)
    with yard.store.reading() as connection:
        assert find_media(connection, before.sha256) is None, "nobody hears the old one any more"


@pytest.mark.parametrize(
    "content",
    [
        b"",
        SVG,
        b"RIFF\0\0\0\0WAVEfmt " + b"\0" * 99,
        EBML + b"\x86\x86A_VORBIS" + b"\0" * 99,
        EBML + b"A_OPUS V_VP8" + b"\0" * 99,
        b"OggS" + b"\0" * 24 + b"\x01vorbis",
        WEBM + b"\0" * MAX_VOICE_BYTES,
    ],
    ids=["empty", "svg", "wav", "other codec", "video", "ogg vorbis", "large"],
)
def test_what_is_no_voice_note_or_too_large_is_refused(yard, content):
    assert put_voice(yard, content).status_code in (400, 413)
    assert list_parts(yard) == []


def test_deleted_part_is_gone_unless_another_lesson_shows_the_same(yard):
    add(yard, SVG)
    yard.client.post(
        "/trainer/steps/small-stove/turn-edge/pictures",
        files={"file": ("x", SVG)},
        data={"caption": "Same"},
    )
    (part,) = list_parts(yard)
    yard.client.post(f"{STEP}/parts/{part.id}/delete")
    assert list_parts(yard) == []
    assert yard.client.get(f"/lesson-media/{part.sha256}").status_code == 200
    other = build_reference(yard.store, yard_name="Yard")["lessons"]
    assert list(other) == ["turn-edge"]
    page = yard.client.get("/trainer/steps/small-stove/turn-edge").text
    address = re.search(r'action="(/trainer/steps/small-stove/turn-edge/parts/[^"]+)"', page)
    yard.client.post(address[1])
    assert yard.client.get(f"/lesson-media/{part.sha256}").status_code == 404
    assert yard.client.post(f"{STEP}/parts/{part.id}/delete").status_code == 404


def test_phone_gets_the_list_with_its_reference_and_the_bytes_by_their_hash(yard, monkeypatch):
    before = build_reference(yard.store, yard_name="Yard")
    add(yard, SVG, caption="One")
    put_voice(yard, WEBM)
    after = build_reference(yard.store, yard_name="Yard")
    assert before["lessons"] == {} and before["tag"] != after["tag"]
    assert build_hello(yard.store, yard_name="Yard", now=NOW)["reference_tag"] == after["tag"]
    picture, voice = after["lessons"]["cut-door-opening"]
    assert (picture["caption"], picture["is_kept"], voice["is_kept"]) == ("One", True, False)
    sent = yard.client.get(f"/api/lesson-media/{voice['sha256']}", headers=yard.headers)
    assert sent.content == WEBM
    monkeypatch.setattr(reference, "MAX_LESSON_BYTES", len(SVG))
    add(yard, SVG.replace(b"h7", b"h6"), caption="Two")
    first, second, _voice = build_reference(yard.store, yard_name="Yard")["lessons"][
        "cut-door-opening"
    ]
    assert (first["is_kept"], second["is_kept"]) == (True, False), "beyond the room on a phone"


def test_lessons_are_the_yards_alone(yard):
    put_voice(yard, WEBM)
    (part,) = list_parts(yard)
    stranger = open_client(yard.client.app)
    for address in (f"/lesson-media/{part.sha256}", f"/api/lesson-media/{part.sha256}"):
        assert stranger.get(address, follow_redirects=False).status_code in (303, 401, 403)
    trainer = open_client(
        yard.client.app, cookie=make_cookie(yard.store, code="TRAIN", role="trainer")
    )
    assert trainer.get(f"/lesson-media/{part.sha256}").status_code == 200


def test_only_the_page_of_a_step_may_use_the_microphone(yard):
    step, other = yard.client.get(STEP), yard.client.get("/trainer")
    assert "microphone=(self)" in step.headers["permissions-policy"]
    assert "microphone=()" in other.headers["permissions-policy"]
    assert "media-src 'self' blob:" in step.headers["content-security-policy"]
