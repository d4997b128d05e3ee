"""What is a release and what is refused: signature, files, names, sizes."""

import json
import struct
import zipfile
from dataclasses import replace

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from qcapp.errors import BadInput, Clash, StartError
from qcapp.release import manifest as manifests
from qcapp.release.manifest import (
    MANIFEST,
    SIGNATURE,
    Manifest,
    ReleaseFile,
    is_inside,
    order_version,
    read_manifest,
)
from qcapp.release.package import open_release
from qcapp.release.signing import (
    check_signature,
    make_release_key,
    read_publisher,
    read_release_key,
    sign,
    write_public,
)
from tests.cli.test_cli import run
from tests.release.made import make_publisher, rewrite_zip, write_program

FILE = ReleaseFile(1, "a" * 64, is_program=False)


@pytest.fixture
def publisher(tmp_path):
    return make_publisher(tmp_path / "publisher")


def take(file, publisher, target):
    with open_release(file, publisher.key.public_key()) as release:
        release.unpack(target)
        return release.manifest


def test_a_signed_folder_comes_out_as_it_was(publisher, tmp_path):
    file = publisher.publish("0.2.0")
    found = take(file, publisher, tmp_path / "out")
    assert found.version == "0.2.0"
    built = file.with_suffix("")
    for name in ("qcapp", "_internal/library.bin", "_internal/words.txt"):
        assert (tmp_path / "out" / name).read_bytes() == (built / name).read_bytes()
    assert (tmp_path / "out" / "qcapp").stat().st_mode & 0o100
    assert not (tmp_path / "out" / "_internal" / "words.txt").stat().st_mode & 0o100


def test_another_publishers_release_is_refused_before_anything_is_read(publisher, tmp_path):
    other = make_publisher(tmp_path / "other")
    with pytest.raises(BadInput, match="not signed by the publisher"):
        take(other.publish("0.2.0"), publisher, tmp_path / "out")
    assert not (tmp_path / "out").exists()


def change_byte(name, content):
    return [(name, content[:-1] + bytes([content[-1] ^ 1]))]


CHANGES = {
    "changed file": lambda name, data: (
        change_byte(name, data) if name.endswith("library.bin") else [(name, data)]
    ),
    "longer file": lambda name, data: [(name, data + b"\0" * name.endswith("library.bin"))],
    "shorter file": lambda name, data: [
        (name, data[:-1] if name.endswith("library.bin") else data)
    ],
    "bomb": lambda name, data: [
        (name, b"\0" * 40_000_000 if name.endswith("library.bin") else data)
    ],
    "changed manifest": lambda name, data: (
        [(name, data.replace(b'"0.2.0"', b'"0.3.0"'))]
        if name.endswith(MANIFEST)
        else [(name, data)]
    ),
    "one file more": lambda name, data: [
        (name, data),
        *([("qcapp/more.py", b"x")] if name.endswith(MANIFEST) else []),
    ],
    "a file outside": lambda name, data: [
        (name, data),
        *([("qcapp/../../out.py", b"x")] if name.endswith(MANIFEST) else []),
    ],
    "one file less": lambda name, data: [(name, data)] * (not name.endswith("words.txt")),
    "no signature": lambda name, data: [(name, data)] * (not name.endswith(SIGNATURE)),
    "long signature": lambda name, data: [(name, data + b"\0" * name.endswith(SIGNATURE))],
    "no manifest": lambda name, data: [(name, data)] * (not name.endswith(MANIFEST)),
}


@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES)
def test_what_was_changed_after_signing_is_refused(publisher, tmp_path, change):
    file = rewrite_zip(publisher.publish("0.2.0"), tmp_path / "changed.zip", change)
    with pytest.raises(BadInput):
        take(file, publisher, tmp_path / "out")
    names = {path.name for path in tmp_path.rglob("*")}
    assert not {"out.py", "more.py"} & names
    written = [path for path in (tmp_path / "out").rglob("*") if path.is_file()]
    assert sum(path.stat().st_size for path in written) < 1_000_000, "a bomb is not unpacked"


def test_a_bomb_that_lies_of_its_size_is_cut_off_at_what_was_signed(publisher, tmp_path):
    """Its size in the zip's own directory is that of the honest file."""
    good = publisher.publish("0.2.0")
    honest = zipfile.ZipFile(good).getinfo("qcapp/_internal/library.bin").file_size
    target = tmp_path / "bomb.zip"
    with zipfile.ZipFile(good) as before, zipfile.ZipFile(target, "w", 8) as after:
        for one in before.infolist():
            is_bomb = one.filename.endswith("library.bin")
            after.writestr(one.filename, b"\0" * 30_000_000 if is_bomb else before.read(one))
    raw = target.read_bytes()
    lying = raw.replace(struct.pack("<I", 30_000_000), struct.pack("<I", honest))
    assert lying != raw
    target.write_bytes(lying)
    with pytest.raises(BadInput):
        take(target, publisher, tmp_path / "out")
    assert all(path.stat().st_size <= 10_000 for path in (tmp_path / "out").rglob("*.bin"))


def test_a_name_that_is_twice_in_the_zip_is_refused(publisher, tmp_path):
    with pytest.warns(UserWarning, match="Duplicate name"):
        file = rewrite_zip(
            publisher.publish("0.2.0"),
            tmp_path / "twice.zip",
            lambda name, data: [(name, data)] * (2 if name.endswith("words.txt") else 1),
        )
    with pytest.raises(BadInput, match="does not hold the files"):
        take(file, publisher, tmp_path / "out")


@pytest.mark.parametrize("content", [b"", b"PK", b"x" * 1000])
def test_what_is_no_zip_is_refused(publisher, tmp_path, content):
    (tmp_path / "x.zip").write_bytes(content)
    with pytest.raises(BadInput, match="no whole release"):
        take(tmp_path / "x.zip", publisher, tmp_path / "out")
    with pytest.raises(BadInput, match="cannot be read"):
        take(tmp_path / "none.zip", publisher, tmp_path / "out")


def test_a_zip_that_was_cut_off_is_refused(publisher, tmp_path):
    whole = publisher.publish("0.2.0").read_bytes()
    for share in (0.1, 0.5, 0.9, 0.999):
        (tmp_path / "cut.zip").write_bytes(whole[: int(len(whole) * share)])
        with pytest.raises(BadInput):
            take(tmp_path / "cut.zip", publisher, tmp_path / "out")


@pytest.mark.parametrize(
    "name",
    ["../x", "/x", "a/../../x", "a\\b", "C:x", "a//b", "./a", "a/.", "", ".", "..", "a\0b", "con|",
     "a/x.", "a/x ", "a\nb"],
)  # fmt: skip
def test_names_that_lead_out_of_the_folder_or_are_none_on_some_system(name):
    assert not is_inside(name)
    good = Manifest("0.2.0", "linux", "qcapp", {"qcapp": FILE})
    assert read_manifest(good.as_bytes()) == good
    with pytest.raises(BadInput, match="outside of its folder"):
        read_manifest(replace(good, files={"qcapp": FILE, name: FILE}).as_bytes())


@pytest.mark.parametrize(
    "change",
    [{"entry": "other"}, {"version": "newest"}, {"version": "1"}, {"files": {}},
     {"files": {"qcapp": FILE, "QCAPP": FILE}},
     {"files": {"qcapp": replace(FILE, size=manifests.MAX_UNPACKED_BYTES + 1)}},
     {"files": {"qcapp": replace(FILE, size=-1)}}, {"files": {"qcapp": replace(FILE, sha256="a")}}],
)  # fmt: skip
def test_manifests_that_are_signed_and_yet_refused(change):
    made = replace(Manifest("0.2.0", "linux", "qcapp", {"qcapp": FILE}), **change)
    with pytest.raises(BadInput):
        read_manifest(made.as_bytes())


@pytest.mark.parametrize("raw", [b"", b"[]", b"{}", b"null", b'{"format": 9}', b"[" * 100_000])
def test_what_is_no_manifest(raw):
    with pytest.raises(BadInput):
        read_manifest(raw)


def test_versions_are_ordered_by_their_numbers():
    assert order_version("0.10.0") > order_version("0.9.9") > order_version("0.9")
    assert order_version("1.0") == order_version("1.0.0")
    for text in ("", "1", "1.x", "1.0-rc", "1..0", "1.0.0.0.0", " 1.0"):
        with pytest.raises(BadInput):
            order_version(text)


def test_signature_is_of_a_release_alone():
    """The raw signature of the same bytes, made for anything else, is none."""
    key = Ed25519PrivateKey.generate()
    check_signature(b"manifest", sign(b"manifest", key), key.public_key())
    with pytest.raises(BadInput):
        check_signature(b"manifest", key.sign(b"manifest"), key.public_key())


def test_program_without_a_publishers_key_takes_no_update(tmp_path):
    for content in (None, b"text", write_public(Ed25519PrivateKey.generate().public_key())[:60]):
        path = tmp_path / "publisher.pem"
        if content is not None:
            path.write_bytes(content)
        with pytest.raises(StartError, match="can trust no update"):
            read_publisher(path)


def test_commands_make_a_key_and_sign_a_folder(tmp_path):
    key = tmp_path / "release.pem"
    made = run("release", "key", key)
    (tmp_path / "publisher.pem").write_text(made.stdout)
    assert key.stat().st_mode & 0o077 == 0
    assert run("release", "key", key).returncode == 1, "never over another"
    write_program(tmp_path / "built", "0.2.0")
    words = ("--key", key, "--out", tmp_path / "out.zip", "--version", "0.2.0")
    done = run("release", "sign", tmp_path / "built", *words)
    assert done.returncode == 0 and "3 files of version 0.2.0" in done.stdout
    publisher = read_publisher(tmp_path / "publisher.pem")
    with open_release(tmp_path / "out.zip", publisher) as release:
        assert set(release.manifest.files) == {
            "qcapp", "_internal/library.bin", "_internal/words.txt",
        }  # fmt: skip
    # Signing again does not list its own signature.
    again = run("release", "sign", tmp_path / "built", *words[:2], "--version", "0.2.0")
    assert "3 files" in again.stdout
    said = json.loads((tmp_path / "built" / MANIFEST).read_text())
    assert said["format"] == 1
    (tmp_path / "built" / "link").symlink_to("qcapp")
    assert run("release", "sign", tmp_path / "built", *words).returncode == 1


def test_keys_of_another_kind_are_refused(tmp_path):
    path = tmp_path / "key.pem"
    make_release_key(path)
    assert read_release_key(path)
    path.write_text("x")
    with pytest.raises(BadInput):
        read_release_key(path)
    with pytest.raises(Clash):
        make_release_key(path)
    with pytest.raises(BadInput):
        make_release_key(tmp_path / "none" / "key.pem")


def test_update_of_an_installed_program_says_how_it_is_updated(tmp_path):
    done = run("update", tmp_path / "new.zip")
    assert done.returncode == 1 and "installed with Python" in done.stderr
