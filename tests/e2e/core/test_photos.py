"""Photos: after the records, over the network that was chosen, one refused holding up no other."""

import hashlib

from tests.e2e.core.fake_yard import as_json, html
from tests.e2e.core.steps import save, sync, take_photo

NOT_JPEG = {"code": "not_jpeg", "params": {}}
REFUSAL = {"error": {"what": "no", "where": "photo", "todo": "take it again", "reason": NOT_JPEG}}
# A kept photo's state and weights, null when there is none.
FIND = """async (name) => {
    const row = await core.findPhoto(name);
    const weigh = (bytes) => bytes?.byteLength ?? 0;
    return row && {
      state: row.state, reason: row.reason ?? null,
      bytes: weigh(row.bytes), thumb: weigh(row.thumb)}; }"""
NETWORK = (
    "(type) => Object.defineProperty(navigator, 'connection', {value: {type}, configurable: true})"
)


def find(page, name: str) -> dict:
    return page.evaluate(FIND, name)


def count(page) -> dict:
    return page.evaluate("core.status().then(({photos}) => photos)")


def test_a_photo_cut_in_the_middle_goes_on_from_there_after_a_restart(paired, yard):
    name = take_photo(paired, "S1", 100_000)
    sent = []

    def cut_third_piece(method, path, request, answer):
        sent.extend([len(request)] if method == "PATCH" else [])
        return None if method == "PATCH" and len(sent) == 3 else answer

    yard.disturb = cut_third_piece
    sync(paired)
    assert (sent, len(yard.photos[name])) == (
        [32_768] * 3,
        3 * 32_768,
    ), "the third piece arrived, its answer did not"
    paired.reload()
    paired.wait_for_function("globalThis.core !== undefined")
    sync(paired)
    assert sent[3:] == [100_000 - 3 * 32_768]
    assert hashlib.sha256(yard.photos[name]).hexdigest() == name
    assert count(paired) == {"waiting": 0, "refused": 0, "bytes": 0}


def test_fault_photos_go_first_then_the_newest(paired, yard):
    names = {
        stove: take_photo(paired, stove, 1000 + at, stove in "FG")
        for at, stove in enumerate("AFBGC")
    }
    sync(paired)
    order = [path.rsplit("/", 1)[1] for method, path, _size in yard.calls if method == "PATCH"]
    assert order == [names[stove] for stove in "GFCBA"]


def test_a_refused_photo_is_kept_marked_and_holds_up_no_other(paired, yard):
    good, bad = take_photo(paired, "S1"), take_photo(paired, "S2", 2000)

    def refuse(method, path, request, answer):
        is_bad = method == "PATCH" and path.endswith(bad)
        return as_json(REFUSAL, 400) if is_bad else answer

    yard.disturb = refuse
    assert sync(paired)["left"] == 0
    assert find(paired, bad) == {
        "state": "refused",
        "reason": NOT_JPEG,
        "bytes": 2000,
        "thumb": 0,
    }
    assert find(paired, good)["state"] == "sent"
    assert count(paired) == {"waiting": 0, "refused": 1, "bytes": 2000}
    calls = len(yard.calls)
    sync(paired)
    assert not [call for call in yard.calls[calls:] if "/photos/" in call[1]], (
        "not tried again by itself"
    )
    yard.disturb = lambda method, path, request, answer: answer
    yard.photos.clear()
    paired.evaluate("core.allowPhotosNow().then(core.syncNow)")
    assert find(paired, bad)["state"] == "sent" and count(paired)["bytes"] == 0


def test_wifi_only_holds_photos_on_any_network_not_known_to_be_free(paired, yard):
    paired.evaluate("core.setMeta('is_wifi_only', true)")
    name = take_photo(paired, "S1")
    for kind in (None, "cellular", "unknown"):
        paired.evaluate(NETWORK, kind)
        assert sync(paired)["left"] == 0
        assert (len(yard.log), yard.photos) == (1, {})
    paired.evaluate(NETWORK, "wifi")
    sync(paired)
    assert name in yard.photos


def test_send_now_sends_photos_whatever_the_network_once(paired, yard):
    paired.evaluate("core.setMeta('is_wifi_only', true)")
    first = take_photo(paired, "S1")
    paired.evaluate("core.allowPhotosNow().then(core.syncNow)")
    second = take_photo(paired, "S2", 2000)
    sync(paired)
    assert first in yard.photos and second not in yard.photos


# A record with a picture as a camera takes it: large, with an edge everywhere.
CAMERA = """async () => {
    const canvas = Object.assign(document.createElement('canvas'), {width: 1600, height: 1200});
    const pen = canvas.getContext('2d');
    pen.fillStyle = '#a0704a';
    pen.fillRect(0, 0, 1600, 1200);
    pen.fillStyle = '#222';
    for (let at = 0; at < 400; at += 1) pen.fillRect((at * 379) % 1600, (at * 211) % 1200, 60, 40);
    const blob = await new Promise((resolve) => canvas.toBlob(resolve, 'image/jpeg'));
    const name = await core.savePhoto(blob);
    await core.save('S1', {photos: [name]});
    return name; }"""


def test_an_old_photo_that_the_server_has_shrinks_to_its_thumb(paired):
    name = paired.evaluate(CAMERA)
    whole = find(paired, name)
    assert whole["bytes"] > 20_000 and 1000 < whole["thumb"] < 8000
    sync(paired)
    paired.evaluate("core.prunePhotos(Date.now() + 89 * 86400000)")
    assert find(paired, name)["bytes"] == whole["bytes"]
    paired.evaluate("core.prunePhotos(Date.now() + 91 * 86400000)")
    assert find(paired, name) == {
        "state": "pruned",
        "reason": None,
        "bytes": 0,
        "thumb": whole["thumb"],
    }


def test_photos_of_a_restored_server_are_offered_again_unless_only_the_thumb_is_left(paired, yard):
    name, small = paired.evaluate(CAMERA), take_photo(paired, "S2")
    sync(paired)
    paired.evaluate("core.prunePhotos(Date.now() + 91 * 86400000)")
    paired.evaluate("core.forgetAcknowledgements()")
    assert find(paired, name)["state"] == "pruned" and find(paired, small) is None
    another = take_photo(paired, "S3", 3000)
    sync(paired)
    paired.evaluate("core.forgetAcknowledgements()")
    assert (
        paired.evaluate("core.listUnsentPhotos()") == [another] and count(paired)["bytes"] == 3000
    )


def test_photos_of_a_draft_thrown_away_do_not_count_for_ever(bare):
    kept, used, loose = (
        bare.evaluate("(length) => core.savePhoto(new ArrayBuffer(length))", length)
        for length in (1000, 2000, 4000)
    )
    bare.evaluate("(name) => core.saveDraft({key: 'k', answers: {rim: {photos: [name]}}})", kept)
    bare.evaluate("(name) => core.save('S1', {photos: [name]})", used)
    bare.evaluate("core.dropLoosePhotos()")
    assert count(bare)["bytes"] == 7000, "a photo of today may be on its way into a draft"
    bare.evaluate("core.dropLoosePhotos(undefined, new Date(Date.now() + 1000).toISOString())")
    assert [bool(find(bare, name)) for name in (kept, used, loose)] == [True, True, False]
    assert count(bare) == {"waiting": 2, "refused": 0, "bytes": 3000}
    bare.evaluate("core.deleteDraft('k')")
    bare.evaluate("(name) => core.dropLoosePhotos([name])", kept)
    assert count(bare) == {"waiting": 1, "refused": 0, "bytes": 2000}


def test_a_login_page_instead_of_photo_answers_marks_nothing(paired, yard):
    name = take_photo(paired, "S1")
    for status in (200, 302, 404, 500):
        answer = (302, {"Location": "/bare"}, b"") if status == 302 else html(status)
        yard.disturb = lambda method, path, request, good, answer=answer: (
            answer if path.startswith("/api/photos/") else good
        )
        sync(paired)
        assert find(paired, name)["state"] == "unsent"


def test_two_photos_with_one_content_are_one(paired, yard):
    first, again = take_photo(paired, "S1"), take_photo(paired, "S2")
    assert first == again and count(paired)["bytes"] == 1000
    save(paired, "S3")
    sync(paired)
    assert len(yard.photos) == 1
