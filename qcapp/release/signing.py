"""The publisher's signature of a release: Ed25519 (RFC 8032) over its manifest, beside it.

The private key stays with who publishes. The public half lies in the program, put there when its
folder is built: without it a program takes no update at all.
"""

import contextlib
import os
from pathlib import Path

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

from qcapp.errors import BadInput, Clash, StartError
from qcapp.i18n.phrase import phrase

# A signature made for anything else is none of a release.
CONTEXT = b"qcapp release 1\n"
PUBLISHER = Path(__file__).parent / "publisher.pem"
SIGNATURE_BYTES = 64


def make_release_key(path: Path) -> Ed25519PrivateKey:
    """A new key in a file of its owner's alone. Raises Clash: one is never written over."""
    key = Ed25519PrivateKey.generate()
    text = key.private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )
    try:
        opened = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError as error:
        raise Clash("this file already exists", str(path), "name another one") from error
    except OSError as error:
        raise BadInput(
            f"the file cannot be written: {error.strerror}", str(path), "name another place"
        ) from error
    with os.fdopen(opened, "wb") as stream:
        stream.write(text)
    return key


def write_public(key: Ed25519PublicKey) -> bytes:
    """PEM."""
    return key.public_bytes(
        serialization.Encoding.PEM, serialization.PublicFormat.SubjectPublicKeyInfo
    )


def read_release_key(path: Path) -> Ed25519PrivateKey:
    """Raises BadInput."""
    try:
        key = serialization.load_pem_private_key(path.read_bytes(), None)
    except (OSError, ValueError, TypeError) as error:
        raise BadInput("the key cannot be read", str(path), "name one of qcapp release key") from (
            error
        )
    if not isinstance(key, Ed25519PrivateKey):
        raise BadInput("this key is of another kind", str(path), "name one of qcapp release key")
    return key


def read_publisher(path: Path = PUBLISHER) -> Ed25519PublicKey:
    """The key against which this program checks updates. Raises StartError where it has none."""
    key: object = None
    with contextlib.suppress(OSError, ValueError):
        key = serialization.load_pem_public_key(path.read_bytes())
    if isinstance(key, Ed25519PublicKey):
        return key
    raise StartError(
        phrase("this program does not know its publisher's key, so it can trust no update"),
        path.name,
        phrase("unzip the new version yourself, from where you got this one"),
    )


def sign(manifest: bytes, key: Ed25519PrivateKey) -> bytes:
    return key.sign(CONTEXT + manifest)


def check_signature(manifest: bytes, signature: bytes, key: Ed25519PublicKey) -> None:
    """Raises BadInput."""
    try:
        key.verify(signature, CONTEXT + manifest)
    except InvalidSignature as error:
        raise BadInput(
            phrase("this release was not signed by the publisher of this program"),
            "",
            phrase("do not use it; get the file again from who publishes the program"),
        ) from error
