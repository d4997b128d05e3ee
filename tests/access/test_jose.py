"""A signed summary is checked by two JOSE libraries that know nothing of this program: a detached,
unencoded JWS (RFC 7515 appendix F, RFC 7797) with Ed25519 (RFC 8037).
"""

import base64
import copy
import json
from pathlib import Path

import pytest
import rfc8785
from joserfc import jws as joserfc_jws
from joserfc.errors import JoseError
from joserfc.jwk import OKPKey
from jwcrypto.common import JWException
from jwcrypto.jwk import JWK
from jwcrypto.jws import JWS

from qcapp.access.signing import check_proof
from tests.documents.samples import KEY, sign_sample

# RFC 9864 names the algorithm Ed25519; until libraries know that name, EdDSA is what all of them
# take, though this one warns.
pytestmark = pytest.mark.filterwarnings("ignore:EdDSA is deprecated via RFC 9864")
OTHER_KEY = "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a"

REFERENCE = Path(__file__).parents[1] / "reference" / "proofs.json"
PUBLISHED = json.loads(REFERENCE.read_text())["jws_ed25519"]


def build_jwk(public_hex: str) -> dict[str, str]:
    x = base64.urlsafe_b64encode(bytes.fromhex(public_hex)).rstrip(b"=").decode()
    return {"kty": "OKP", "crv": "Ed25519", "x": x}


def check_with_joserfc(token: str, content: bytes | None, public_hex: str) -> bytes | None:
    """content None: the token carries its own."""
    key = OKPKey.import_key(build_jwk(public_hex))
    try:
        found = joserfc_jws.deserialize_compact(token, key, payload=content, algorithms=["EdDSA"])
    except (ValueError, JoseError):
        return None
    return found.payload


def check_with_jwcrypto(token: str, content: bytes | None, public_hex: str) -> bytes | None:
    read = JWS()
    read.allowed_algs = ["EdDSA"]
    try:
        read.deserialize(token)
        read.verify(JWK(**build_jwk(public_hex)), detached_payload=content)
    except JWException:
        return None
    return content if content is not None else read.payload


LIBRARIES = pytest.mark.parametrize("check", [check_with_joserfc, check_with_jwcrypto])


@LIBRARIES
def test_the_libraries_read_a_published_signature(check):
    public_hex = base64.urlsafe_b64decode(PUBLISHED["public_x"] + "=").hex()
    assert public_hex == OTHER_KEY
    assert check(PUBLISHED["jws"], None, public_hex) == b"Example of Ed25519 signing"


@LIBRARIES
@pytest.mark.parametrize("name", ["good", "bad"])
def test_signed_summary_is_good_to_a_jose_library(name, check):
    proof = sign_sample(name)
    content = rfc8785.dumps(proof["summary"])
    assert check(proof["signature"]["jws"], content, KEY.public_hex) == content


@pytest.mark.parametrize("name", ["good", "bad"])
def test_signed_content_is_compact_json_with_sorted_keys_as_the_guide_says(name):
    summary = sign_sample(name)["summary"]
    plain = json.dumps(summary, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    assert plain.encode() == rfc8785.dumps(summary)


@LIBRARIES
def test_altered_summary_or_another_key_is_refused_by_a_jose_library(check):
    proof = sign_sample("good")
    token, content = proof["signature"]["jws"], rfc8785.dumps(proof["summary"])
    altered = rfc8785.dumps({**proof["summary"], "number": 99})
    assert check(token, altered, KEY.public_hex) is None
    assert check(token, content, OTHER_KEY) is None
    header, _, value = token.partition("..")
    assert check(f"{header}..{'A' * len(value)}", content, KEY.public_hex) is None


def test_our_own_check_sees_what_is_wrong_with_the_jws():
    good = sign_sample("good")
    header, _, value = good["signature"]["jws"].partition("..")
    for wrong in (
        "",
        f"{header}..",
        f"{header}.e30.{value}",
        f"{header}..{value}=",
        f"{header}..{value[:-4]}",
        f"{header}..{value[::-1]}",
        f"eyJhbGciOiJub25lIn0..{value}",
        7,
    ):
        proof = copy.deepcopy(good)
        proof["signature"]["jws"] = wrong
        assert [finding.field for finding in check_proof(proof, KEY.public_hex)] == [
            "signature.jws"
        ]


def test_summary_signed_before_there_was_one_stays_good():
    proof = sign_sample("good")
    del proof["signature"]["jws"]
    assert check_proof(proof, KEY.public_hex) == []
