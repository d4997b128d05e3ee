"""The yard's signature under a batch summary, and the check that anyone can make offline.

A signed summary ("proof") is one JSON object:

    {"summary": the document,
     "signed": {"format": "batch-summary-proof/1", "summary_sha256": hex,
                "fields": {place: hex, ...}},
     "signature": {"algorithm": "Ed25519", "public_key": 64 hex, "value": 128 hex,
                   "jws": header..signature}}

The signature (Ed25519, RFC 8032) is over the RFC 8785 bytes of "signed". "summary_sha256" is over
the RFC 8785 bytes of the whole document: it alone already binds all of it. A single digest
could not say where an altered document differs, so "fields" holds one digest more for each
top-level key and one level below (`counts.good`, `causes[0]`), and being signed too, it can
be trusted to name the place.

"jws" lets whoever has a JOSE library check the summary without this program: a JWS (RFC 7515) in
compact form with detached content (appendix F), unencoded (RFC 7797): the RFC 8785 bytes of
"summary". Its algorithm is EdDSA (RFC 8037), its key the same. Files of older versions lack it.
"""

import base64
import binascii
import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import rfc8785
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

from qcapp.access.signing_key import SigningKey
from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase

ALGORITHM = "Ed25519"
PROOF_FORMAT = "batch-summary-proof/1"
JWS_HEADER = b'{"alg":"EdDSA","b64":false,"crit":["b64"]}'


@dataclass(frozen=True)
class Finding:
    """One thing that is not as it was signed. field: its place in the file; what: a phrase."""

    field: str
    what: str

    def __str__(self) -> str:
        return f"{self.field}: {self.what}"


def sign_document(key: SigningKey, document: Mapping[str, Any]) -> dict[str, Any]:
    """The proof of a document. Raises BadInput when it has no canonical JSON."""
    signed = _describe(document)
    jws_signature = key.sign(_build_jws_input(document))
    signature = {
        "algorithm": ALGORITHM,
        "public_key": key.public_hex,
        "value": key.sign(_canonical(signed)).hex(),
        "jws": f"{_encode(JWS_HEADER)}..{_encode(jws_signature)}",
    }
    return {"summary": dict(document), "signed": signed, "signature": signature}


def check_proof(proof: Any, public_hex: str | None = None) -> list[Finding]:
    """What does not match, empty when all is as signed; public_hex: the key it must be signed with.

    Without public_hex only the key that the file itself names is tried: then an empty list says
    that the file hangs together, not whose it is.
    """
    findings = list(_find_misshapen(proof))
    if findings:
        return findings
    try:
        findings = [
            *_check_signature(proof, public_hex),
            *_compare(_describe(proof["summary"]), proof["signed"]),
        ]
        # What is altered fits neither signature; one line of it is enough.
        return findings or list(_check_jws(proof))
    except BadInput as error:
        return [Finding(error.where, error.what)]


def _check_signature(proof: Mapping[str, Any], public_hex: str | None) -> Iterator[Finding]:
    if public_hex is not None and proof["signature"]["public_key"] != public_hex:
        yield Finding(
            "signature.public_key",
            phrase(
                "this file is signed with %(key)s, which is not the expected key",
                key=proof["signature"]["public_key"],
            ),
        )
    if not _is_signed(proof):
        yield Finding(
            "signature.value",
            phrase("the signature does not fit the signed list and the key in this file"),
        )


def _check_jws(proof: Mapping[str, Any]) -> Iterator[Finding]:
    if "jws" in proof["signature"] and not _is_jws_signed(proof):
        yield Finding("signature.jws", phrase("does not fit the summary and the key in this file"))


def document_sha256(document: Mapping[str, Any]) -> str:
    """The summary's name: SHA-256, lower-case hex, of its canonical JSON."""
    return _digest(document)


def _describe(document: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "format": PROOF_FORMAT,
        "summary_sha256": document_sha256(document),
        "fields": {place: _digest(value) for place, value in _list_fields(document)},
    }


def _list_fields(document: Mapping[str, Any]) -> Iterator[tuple[str, Any]]:
    for key, value in document.items():
        yield key, value
        if isinstance(value, Mapping):
            yield from ((f"{key}.{inner}", part) for inner, part in value.items())
        elif isinstance(value, (list, tuple)):
            yield from ((f"{key}[{index}]", part) for index, part in enumerate(value))


def _compare(found: Mapping[str, Any], signed: Mapping[str, Any]) -> Iterator[Finding]:
    here, there = found["fields"], signed["fields"]
    altered = [
        place
        for place in [*there, *(here.keys() - there.keys())]
        if here.get(place) != there.get(place)
    ]
    # `counts` differs whenever `counts.good` does; only the closer place is worth a line.
    outer = {
        place.split(".")[0].split("[")[0] for place in altered if place[-1] == "]" or "." in place
    }
    for place in sorted(set(altered) - outer):
        if place not in here:
            yield Finding(place, phrase("was signed, but is missing here"))
        elif place not in there:
            yield Finding(place, phrase("is here, but was not signed"))
        else:
            yield Finding(place, phrase("is not what was signed"))
    if found["summary_sha256"] != signed["summary_sha256"] and not altered:
        yield Finding("signed.summary_sha256", phrase("is not the digest of this summary"))


def _is_signed(proof: Mapping[str, Any]) -> bool:
    signature = proof["signature"]
    value = bytes.fromhex(signature["value"])
    return _fits(signature["public_key"], value, _canonical(proof["signed"]))


def _is_jws_signed(proof: Mapping[str, Any]) -> bool:
    """Only the header that we write: another could ask for another check."""
    header, dots, value = str(proof["signature"]["jws"]).partition("..")
    try:
        signature = base64.b64decode(value + "==", altchars=b"-_", validate=True)
    except (ValueError, binascii.Error):
        return False
    is_whole = (header, dots) == (_encode(JWS_HEADER), "..") and value == _encode(signature)
    message = _build_jws_input(proof["summary"])
    return is_whole and _fits(proof["signature"]["public_key"], signature, message)


def _fits(public_hex: str, signature: bytes, message: bytes) -> bool:
    try:
        public = Ed25519PublicKey.from_public_bytes(bytes.fromhex(public_hex))
        public.verify(signature, message)
    except (InvalidSignature, ValueError):
        return False
    return True


def _build_jws_input(document: Mapping[str, Any]) -> bytes:
    """What is signed (RFC 7797 section 3): the encoded header, a full stop, the bare content."""
    return _encode(JWS_HEADER).encode() + b"." + _canonical(document)


def _encode(content: bytes) -> str:
    """Base64url without padding (RFC 7515 section 2)."""
    return base64.urlsafe_b64encode(content).rstrip(b"=").decode()


def _find_misshapen(proof: Any) -> Iterator[Finding]:
    """Places without which nothing can be checked."""
    if not isinstance(proof, Mapping):
        yield Finding("file", phrase("is not a signed summary: a JSON object was expected"))
        return
    for name in ("summary", "signed", "signature"):
        if not isinstance(proof.get(name), Mapping):
            yield Finding(name, phrase("is missing"))
    for name in sorted(set(proof) - {"summary", "signed", "signature"}):
        yield Finding(str(name), phrase("does not belong in a signed summary"))
    signed, signature = proof.get("signed"), proof.get("signature")
    if isinstance(signed, Mapping) and (
        signed.get("format") != PROOF_FORMAT
        or not isinstance(signed.get("fields"), Mapping)
        or set(signed) != {"format", "summary_sha256", "fields"}
    ):
        yield Finding(
            "signed",
            phrase(
                "is not of the form %(form)s; a newer version may be needed to read it",
                form=PROOF_FORMAT,
            ),
        )
    if isinstance(signature, Mapping):
        if signature.get("algorithm") != ALGORITHM:
            yield Finding("signature.algorithm", phrase("is not %(name)s", name=ALGORITHM))
        for name, length in (("public_key", 64), ("value", 128)):
            if not _is_hex(signature.get(name), length):
                yield Finding(
                    f"signature.{name}",
                    phrase("is not %(length)s lower-case hex digits", length=length),
                )


def _is_hex(text: Any, length: int) -> bool:
    return isinstance(text, str) and len(text) == length and not set(text) - set("0123456789abcdef")


def _digest(value: Any) -> str:
    return hashlib.sha256(_canonical(value)).hexdigest()


def _canonical(value: Any) -> bytes:
    try:
        return rfc8785.dumps(value)
    except (ValueError, TypeError, RecursionError) as error:
        raise BadInput(
            phrase("not canonical JSON: %(error)s", error=str(error)),
            "summary",
            phrase("use objects, lists, text, whole numbers, true, false, null"),
        ) from error
