"""The yard's private key, in a file that only its owner may read."""

import os
import secrets
from pathlib import Path

from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from qcapp.errors import StartError

OPEN_TO_OTHERS = 0o077


class SigningKey:
    """The yard's private key; gives nothing away but its public half and signatures."""

    def __init__(self, private: Ed25519PrivateKey) -> None:
        self._private = private
        self.public_hex = private.public_key().public_bytes_raw().hex()

    def sign(self, message: bytes) -> bytes:
        return self._private.sign(message)


def load_or_make_key(path: Path) -> SigningKey:
    """The key in the file (PEM, PKCS #8), made when there is none; only its owner may read it.

    Raises StartError when others may read it, or it holds no Ed25519 key: going on with another
    key would make the buyers' copy of the yard's public key worthless without a word.
    """
    if not path.exists():
        _make_key(path)
    try:
        if os.name == "posix" and path.stat().st_mode & OPEN_TO_OTHERS:
            raise StartError(
                "other users of this machine can read the yard's key",
                str(path),
                f"chmod 600 {path}; if others had access, make a new key",
            )
        private = serialization.load_pem_private_key(path.read_bytes(), password=None)
    except OSError as error:
        raise StartError(
            f"the yard's key cannot be read: {error.strerror}",
            str(path),
            "make the file readable for the server",
        ) from error
    except (ValueError, TypeError) as error:
        raise StartError(
            "this is not a private key without a password",
            str(path),
            "restore the yard's key from its backup",
        ) from error
    if not isinstance(private, Ed25519PrivateKey):
        raise StartError(
            "this is a private key of another kind",
            str(path),
            "the yard's key must be an Ed25519 key; restore it from its backup",
        )
    return SigningKey(private)


def _make_key(path: Path) -> None:
    """Writes a fresh key beside its place and links it there: never half a file or over another."""
    pem = Ed25519PrivateKey.generate().private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    draft = path.with_name(f".{path.name}.{secrets.token_hex(8)}")
    try:
        with os.fdopen(os.open(draft, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600), "wb") as stream:
            stream.write(pem)
            stream.flush()
            os.fsync(stream.fileno())
        os.link(draft, path)
    except FileExistsError:
        return  # Another process was first; its key is the one.
    except OSError as error:
        raise StartError(
            f"the yard's key cannot be made: {error.strerror}",
            str(path),
            "name a writable place in QCAPP_KEY_FILE",
        ) from error
    finally:
        draft.unlink(missing_ok=True)
