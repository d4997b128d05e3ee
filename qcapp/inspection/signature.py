"""The signature of a record: a phone's key over the record's hash.

ECDSA over P-256 with SHA-256 (FIPS 186-5), which every browser makes that the app runs in; Ed25519
only since Chrome 137. It stands beside the record, never inside of what is hashed. The phone signs
(twin: static/phone/js/inspection/signature.js), the server only checks; the rule is
tests/vectors/signature/.
"""

import base64
import binascii
import functools

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.asymmetric.utils import encode_dss_signature

# What is signed begins with its own name, so that no signature made for another purpose fits.
PREFIX = b"record/1\n"
KEY_BYTES = 65
SIGNATURE_BYTES = 64
# Of 65 and 64 bytes in base64url without padding.
KEY_LENGTH = 87
SIGNATURE_LENGTH = 86


def signed_bytes(content_hash: str) -> bytes:
    """What a phone signs of the record with this hash (lower-case hex)."""
    return PREFIX + content_hash.encode("ascii")


@functools.lru_cache(maxsize=1024)
def read_public_key(text: str) -> ec.EllipticCurvePublicKey | None:
    """The key of its point as a browser exports it: base64url of 65 bytes (SEC 1, 2.3.3,
    uncompressed). None where it is none, or a point beside the curve.
    """
    content = _decode(text, KEY_BYTES)
    if content is None:
        return None
    try:
        return ec.EllipticCurvePublicKey.from_encoded_point(ec.SECP256R1(), content)
    except ValueError:
        return None


def is_signed(content_hash: str, signature: str, public_key: str) -> bool:
    """Whether this signature of the record with this hash was made with the private key of
    `public_key`.
    """
    return fits(signed_bytes(content_hash), signature, public_key)


def fits(content: bytes, signature: str, public_key: str) -> bool:
    """The same of any bytes. signature: base64url of r and s, 32 bytes each, as a browser writes it
    (IEEE P1363).
    """
    key, pair = read_public_key(public_key), _decode(signature, SIGNATURE_BYTES)
    if key is None or pair is None:
        return False
    half = SIGNATURE_BYTES // 2
    r, s = (int.from_bytes(part, "big") for part in (pair[:half], pair[half:]))
    try:
        key.verify(encode_dss_signature(r, s), content, ec.ECDSA(hashes.SHA256()))
    except InvalidSignature:
        return False
    return True


def _decode(text: str, length: int) -> bytes | None:
    """Exactly so many bytes, else None; one text for each value."""
    try:
        content = base64.b64decode(text + "=" * (-len(text) % 4), altchars=b"-_", validate=True)
    except (ValueError, binascii.Error):
        return None
    written = base64.urlsafe_b64encode(content).rstrip(b"=").decode()
    return content if len(content) == length and written == text else None
