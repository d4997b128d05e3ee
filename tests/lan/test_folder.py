"""The authority's folder: private files, made once, renewed and moved without a new authority;
clocks.
"""

import json
from datetime import timedelta

import pytest

from qcapp.errors import BadInput, Clash, NotFound, StartError
from qcapp.lan import folder as lan_folder
from qcapp.lan.clock import BUILT_AT, find_clock_fault, refuse_wrong_clock
from qcapp.lan.folder import create_lan, move_lan, open_lan, renew_if_due
from qcapp.lan.origin import Origin, make_origin, refuse_absent_address, refuse_other_origin
from tests.lan.made import NOW, make, make_folder, verify


def test_only_its_owner_can_read_the_keys(tmp_path):
    made = make_folder(tmp_path / "lan")
    assert made.folder.stat().st_mode & 0o777 == 0o700
    assert {
        path.name: path.stat().st_mode & 0o777 for path in made.folder.iterdir()
    } == dict.fromkeys(("authority.pem", "server.pem", "origin.json"), 0o600)
    assert made.list_open_files() == []
    (made.folder / "authority.pem").chmod(0o644)
    assert [path.name for path in made.list_open_files()] == ["authority.pem"]


def test_authority_is_made_once(tmp_path):
    made = make_folder(tmp_path / "lan")
    with pytest.raises(Clash, match="made only once"):
        make_folder(tmp_path / "lan")
    assert open_lan(made.folder).authority.der == made.authority.der


def test_interrupted_making_leaves_nothing(tmp_path, monkeypatch):
    def fail(path, text):
        raise KeyboardInterrupt

    monkeypatch.setattr(lan_folder, "write_private", fail)
    with pytest.raises(KeyboardInterrupt):
        make_folder(tmp_path / "lan")
    assert list(tmp_path.iterdir()) == []


def test_server_certificate_is_renewed_below_90_days_and_the_authority_stays(tmp_path):
    made = make_folder(tmp_path / "lan")
    early, late = NOW + timedelta(days=304), NOW + timedelta(days=306)
    assert renew_if_due(made, early).leaf == made.leaf
    renewed = renew_if_due(made, late)
    assert renewed.leaf != made.leaf and renewed.authority.der == made.authority.der
    assert open_lan(made.folder).leaf == renewed.leaf
    verify(made.authority, renewed.leaf, "10.42.0.1", late + timedelta(days=300))
    assert renewed.server_path.stat().st_mode & 0o777 == 0o600


@pytest.mark.parametrize("damage", ["gone", "torn", "of another", "for another address"])
def test_server_certificate_that_does_not_fit_is_made_anew(tmp_path, damage):
    made, other = make_folder(tmp_path / "lan"), make_folder(tmp_path / "other")
    if damage == "gone":
        made.server_path.unlink()
    elif damage == "torn":
        made.server_path.write_text("-----BEGIN")
    elif damage == "of another":
        made.server_path.write_bytes(other.server_path.read_bytes())
    else:
        # A move that was cut short after its first file.
        move_lan(made, origin=Origin("10.42.0.7"), now=NOW)
        (made.folder / "origin.json").write_text(made.origin.as_json())
    mended = renew_if_due(open_lan(made.folder), NOW)
    verify(made.authority, mended.leaf, "10.42.0.1", NOW)


def test_authority_is_never_renewed_by_itself(tmp_path):
    made = make_folder(tmp_path / "lan")
    with pytest.raises(StartError, match=r"authority has expired.*every phone"):
        renew_if_due(made, NOW + timedelta(days=3650))
    assert open_lan(made.folder).authority.der == made.authority.der


def test_damaged_authority_stops_the_start(tmp_path):
    made = make_folder(tmp_path / "lan")
    (made.folder / "authority.pem").write_text("x")
    with pytest.raises(StartError, match="--restore"):
        open_lan(made.folder)
    with pytest.raises(NotFound, match="qcapp lan init"):
        open_lan(tmp_path / "nowhere")


def test_another_origin_is_refused_with_the_three_ways_out():
    kept = Origin("10.42.0.1")
    refuse_other_origin(kept, host=None, port=None)
    refuse_other_origin(kept, host="10.42.0.1", port=8443)
    for asked in ({"host": "10.42.0.7", "port": None}, {"host": None, "port": 443}):
        with pytest.raises(
            Clash,
            match=(
                r"restore the old address, or let every phone send first, or export its records"
                r" as a file.*qcapp lan move"
            ),
        ):
            refuse_other_origin(kept, **asked)


def test_address_that_this_machine_does_not_have_is_refused():
    refuse_absent_address(Origin("127.0.0.9"))
    # TEST-NET-1 of RFC 5737: nobody's; the check itself does not ask whether it is private.
    with pytest.raises(StartError, match=r"switch the hotspot.*qcapp lan move"):
        refuse_absent_address(Origin("192.0.2.77"))


def test_move_keeps_the_authority_and_changes_leaf_and_origin(tmp_path):
    made = make_folder(tmp_path / "lan")
    move_lan(made, origin=make_origin(host="10.42.0.7", port=443, bootstrap_port=80), now=NOW)
    moved = open_lan(made.folder)
    assert moved.authority.der == made.authority.der
    assert json.loads((made.folder / "origin.json").read_text()) == {
        "origin": "https://10.42.0.7",
        "bootstrap_port": 80,
    }
    assert (
        moved.origin == Origin("10.42.0.7", 443, 80)
        and moved.origin.bootstrap_url == "http://10.42.0.7/"
    )
    verify(made.authority, moved.leaf, "10.42.0.7", NOW)
    with pytest.raises(BadInput, match="may not vouch"):
        moved.authority.check_address("10.43.0.1")


@pytest.mark.parametrize(
    "text",
    [
        "{}",
        "[]",
        "x",
        '{"origin": "https://10.42.0.1", "bootstrap_port": "80"}',
        '{"origin": "https://10.42.0.1:99999", "bootstrap_port": 80}',
    ],
)
def test_damaged_origin_stops_the_start(tmp_path, text):
    made = make_folder(tmp_path / "lan")
    (made.folder / "origin.json").write_text(text)
    with pytest.raises(StartError, match="origin cannot be read"):
        open_lan(made.folder)


def test_clock_before_the_build_or_before_the_authority_is_refused(tmp_path):
    before = BUILT_AT - timedelta(seconds=1)
    with pytest.raises(StartError, match="set the clock"):
        refuse_wrong_clock(before)
    with pytest.raises(StartError, match="set the clock"):
        create_lan(
            tmp_path / "lan", authority=make(now=before), origin=Origin("10.42.0.1"), now=before
        )
    made = make_folder(tmp_path / "lan")
    with pytest.raises(StartError, match="set the clock"):
        renew_if_due(made, NOW - timedelta(minutes=1))
    assert find_clock_fault(NOW, NOW) is None and find_clock_fault(NOW, NOW + timedelta(days=1))
