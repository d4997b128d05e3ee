"""Signed notes: a text that a person can read, with lines behind it that anybody can check.

After C2SP "signed note" v1, with Ed25519 (signature type 0x01). A key's name with its id, the first
four bytes of a hash over name and key, says whose signature a line is.
"""

import base64
import binascii
import hashlib
from collections.abc import Iterator

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

from qcapp.access.signing_key import SigningKey

ED25519 = b"\x01"
DASH = "\N{EM DASH} "
MAX_SIGNATURES = 100


def sign_note(key: SigningKey, name: str, text: str) -> str:
    """The note. text: lines, the last one ended too; name: of the key, without blank or plus."""
    public = bytes.fromhex(key.public_hex)
    signature = find_key_id(name, public) + key.sign(text.encode())
    return f"{text}\n{DASH}{name} {base64.b64encode(signature).decode()}\n"


def find_key_id(name: str, public: bytes) -> bytes:
    return hashlib.sha256(name.encode() + b"\n" + ED25519 + public).digest()[:4]


def read_note(note: str, name: str, public: bytes) -> str | None:
    """The text of a note that the key signed; None where it did not, or it is no note."""
    text, gap, signatures = note.rpartition("\n\n")
    lines = signatures.removesuffix("\n").split("\n")
    if not gap or not signatures.endswith("\n") or len(lines) > MAX_SIGNATURES:
        return None
    text += "\n"
    found = list(_list_own(lines, name, find_key_id(name, public)))
    if not found or not _has_plain_characters(note):
        return None
    try:
        for signature in found:
            Ed25519PublicKey.from_public_bytes(public).verify(signature, text.encode())
    except (InvalidSignature, ValueError):
        return None
    return text


def _list_own(lines: list[str], name: str, key_id: bytes) -> Iterator[bytes]:
    """Signatures of this key; those of other keys are nobody's business here."""
    for line in lines:
        start = f"{DASH}{name} "
        if not line.startswith(start):
            continue
        try:
            signature = base64.b64decode(line.removeprefix(start), validate=True)
        except (ValueError, binascii.Error):
            continue
        if signature[:4] == key_id:
            yield signature[4:]


def _has_plain_characters(note: str) -> bool:
    try:
        note.encode()
    except UnicodeEncodeError:
        return False
    return all(character >= " " or character == "\n" for character in note)


def write_verifier_key(name: str, public: bytes) -> str:
    """The public key as others' tools take it: name+id+key."""
    key = base64.b64encode(ED25519 + public).decode()
    return f"{name}+{find_key_id(name, public).hex()}+{key}"
