"""What the authority and its leaves are good for, asked of a verifier that is not ours."""

from datetime import timedelta

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID
from cryptography.x509.verification import VerificationError

from qcapp.errors import BadInput, StartError
from qcapp.lan.authority import read_address, read_authority, read_name, read_ranges
from qcapp.lan.leaf import make_leaf
from qcapp.lan.sheet import write_sheet
from tests.lan.made import NAME, NOW, make, make_folder, read_certificate, verify


@pytest.fixture(scope="module")
def authority():
    return make()


def leaf_for(authority, address="10.42.0.1", name=NAME, now=NOW):
    return read_certificate(make_leaf(authority, address=address, name=name, now=now))


@pytest.mark.parametrize("subject", ["10.42.0.1", NAME])
def test_leaf_is_accepted_for_its_address_and_name(authority, subject):
    verify(authority, leaf_for(authority), subject, NOW)


@pytest.mark.parametrize("subject", ["10.42.0.2", "other.lan", f"www.{NAME}"])
def test_leaf_is_refused_for_what_it_does_not_name(authority, subject):
    with pytest.raises(VerificationError):
        verify(authority, leaf_for(authority), subject, NOW)


@pytest.mark.parametrize(
    ("address", "name", "subject"),
    [
        ("8.8.8.8", NAME, "8.8.8.8"),
        ("10.43.0.1", NAME, "10.43.0.1"),
        ("192.168.137.1", NAME, "192.168.137.1"),
        ("fd00::1", NAME, "fd00::1"),
        ("10.42.0.1", "bank.example", "bank.example"),
        ("10.42.0.1", "lan", "lan"),
        # Even its right address falls when the same leaf names something else.
        ("10.42.0.1", "bank.example", "10.42.0.1"),
    ],
)
def test_signed_with_a_stolen_key_it_is_refused_outside_the_constraints(
    authority, address, name, subject
):
    with pytest.raises(VerificationError):
        verify(authority, leaf_for(authority, address, name), subject, NOW)


@pytest.mark.parametrize("address", ["10.42.0.2", "10.42.0.254"])
def test_another_address_inside_the_range_is_accepted(authority, address):
    verify(authority, leaf_for(authority, address), address, NOW)


def test_leaf_of_another_authority_is_refused(authority):
    with pytest.raises(VerificationError):
        verify(authority, leaf_for(make()), "10.42.0.1", NOW)


def test_authority_makes_no_authority_below_it(authority):
    limits = authority.certificate.extensions.get_extension_for_class(x509.BasicConstraints)
    assert limits.critical and limits.value.ca and limits.value.path_length == 0
    constraints = authority.certificate.extensions.get_extension_for_class(x509.NameConstraints)
    assert constraints.critical and len(constraints.value.permitted_subtrees) == 2
    assert (
        not leaf_for(authority).extensions.get_extension_for_class(x509.BasicConstraints).value.ca
    )


def test_leaf_begins_two_days_back_and_lasts_397(authority):
    leaf = leaf_for(authority)
    assert leaf.not_valid_before_utc == NOW - timedelta(days=2)
    assert leaf.not_valid_after_utc - leaf.not_valid_before_utc == timedelta(days=397)
    verify(authority, leaf, NAME, NOW - timedelta(days=1, hours=23))
    for wrong in (NOW - timedelta(days=3), NOW + timedelta(days=396)):
        with pytest.raises(VerificationError):
            verify(authority, leaf, NAME, wrong)


def test_leaf_is_a_servers_and_never_outlives_the_authority(authority):
    leaf = leaf_for(authority)
    assert list(leaf.extensions.get_extension_for_class(x509.ExtendedKeyUsage).value) == [
        ExtendedKeyUsageOID.SERVER_AUTH
    ]
    late = leaf_for(authority, now=authority.certificate.not_valid_after_utc - timedelta(days=30))
    assert late.not_valid_after_utc == authority.certificate.not_valid_after_utc


def test_backup_sheet_brings_the_same_authority_back(tmp_path):

    made = make_folder(tmp_path / "lan")
    sheet = write_sheet(made)
    again = read_authority(sheet.replace("\n", "\r\n"), "sheet")
    assert again.der == made.authority.der and again.fingerprint in sheet
    verify(made.authority, leaf_for(again), "10.42.0.1", NOW)


@pytest.mark.parametrize("damage", ["no key", "no certificate", "foreign key", "torn"])
def test_sheet_that_is_not_whole_says_so(authority, damage):
    text = authority.as_pem()
    key, certificate = text.split("-----BEGIN CERTIFICATE", 1)
    other = make().as_pem().split("-----BEGIN CERTIFICATE", 1)[0]
    texts = {
        "no key": "-----BEGIN CERTIFICATE" + certificate,
        "no certificate": key,
        "foreign key": text.replace(key, other),
        "torn": text.replace(text[60:80], ""),
    }
    with pytest.raises(StartError, match="sheet"):
        read_authority(texts[damage], "sheet")


def test_key_that_is_not_of_an_authority_is_refused(authority):
    with pytest.raises(StartError, match="is not complete"):
        read_authority(make_leaf(authority, address="10.42.0.1", name=NAME, now=NOW), "sheet")
    assert isinstance(authority.key.curve, ec.SECP256R1)


@pytest.mark.parametrize(
    "text",
    ["8.8.8.8", "100.64.0.1", "169.254.1.1", "10.42.0", "fd00::1", "yard.lan", "010.42.0.1", ""],
)
def test_address_must_be_a_private_one(text):
    with pytest.raises(BadInput):
        read_address(text)


@pytest.mark.parametrize(
    "texts",
    [["0.0.0.0/0"], ["10.0.0.0/7"], ["8.8.8.0/24"], ["10.43.0.0/24"], ["10.42.0.1/24"], ["x"]],
)
def test_ranges_must_be_private_and_hold_the_address(texts):
    with pytest.raises(BadInput):
        read_ranges(texts, "10.42.0.1")


def test_without_a_range_all_private_ones_are_chosen_and_no_public_one():
    assert [str(one) for one in read_ranges([], "10.42.0.1")] == [
        "10.0.0.0/8",
        "172.16.0.0/12",
        "192.168.0.0/16",
    ]
    assert [str(one) for one in read_ranges([], "127.0.0.9")] == ["127.0.0.0/8"]


@pytest.mark.parametrize(
    "text", ["lan", "*.lan", "yard.local", "yard lan", "yard..lan", "-a.lan", "10.42.0.1/24", ""]
)
def test_name_must_be_one_that_phones_find(text):
    with pytest.raises(BadInput):
        read_name(text)
    assert read_name("Yard.LAN") == "yard.lan"
