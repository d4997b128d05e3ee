"""Photos arrive piece by piece under the name of their content."""

import hashlib

import pytest

from tests.builders import open_yard

JPEG = b"\xff\xd8\xff" + bytes(range(256)) * 300
NAME = hashlib.sha256(JPEG).hexdigest()


@pytest.fixture
def yard():
    return open_yard()


def send(yard, piece, offset, *, size=len(JPEG), name=NAME):
    headers = {**yard.headers, "Upload-Length": str(size), "Upload-Offset": str(offset)}
    return yard.client.patch(f"/api/photos/{name}", content=piece, headers=headers)


def test_pieces_make_the_whole_and_repeats_are_harmless(yard):
    assert yard.client.head(f"/api/photos/{NAME}", headers=yard.headers).headers["upload-offset"] == "0"
    assert send(yard, JPEG[:40_000], 0).headers["upload-offset"] == "40000"
    assert yard.client.get(f"/photos/{NAME}").status_code == 404
    wrong = send(yard, JPEG[:40_000], 0)
    assert wrong.status_code == 409 and wrong.headers["upload-offset"] == "40000"
    assert send(yard, JPEG[40_000:], 40_000).status_code == 204
    assert send(yard, JPEG[40_000:], 40_000).headers["upload-offset"] == str(len(JPEG))
    shown = yard.client.get(f"/photos/{NAME}")
    assert shown.content == JPEG and shown.headers["x-content-type-options"] == "nosniff"


def test_content_that_does_not_hash_to_its_name_starts_again(yard):
    answer = send(yard, b"\xff\xd8\xff" + b"x" * 50, 0, size=53)
    assert answer.headers["upload-offset"] == "0"
    assert yard.client.get(f"/photos/{NAME}").status_code == 404


def test_too_large_unnamed_or_unpaired_is_refused(yard):
    assert send(yard, b"abc", 0, size=10_000_000).status_code == 400
    assert send(yard, b"abc", 0, size=2).status_code == 400
    assert send(yard, b"abc", 0, size=3, name="../x").status_code in (400, 404)
    assert yard.client.head(f"/api/photos/{NAME}").status_code == 401
