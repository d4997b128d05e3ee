"""Sticks, addresses and the file that starts the program: by what each system is documented to say.
Windows and macOS are tested as contents of files alone."""

import configparser
import plistlib
import shutil
import socket
import subprocess

import pytest

from qcapp.errors import StartError
from qcapp.lan.authority import PRIVATE
from qcapp.machine import addresses, places
from qcapp.machine.sign_in_start import describe_start, switch_off, switch_on

MOUNTS = r"""/dev/nvme0n1p2 / ext4 rw 0 0
proc /proc proc rw 0 0
/dev/sdb1 /media/lead/MY\040STICK vfat rw 0 0
/dev/sdc1 /mnt/card vfat rw 0 0
/dev/sdd1 /srv/disk ext4 rw 0 0
tmpfs /run/media/none tmpfs rw 0 0
"""


def test_sticks_are_what_a_desktop_mounted_or_the_kernel_calls_removable():
    found = places.list_mounts(MOUNTS, lambda name: name == "sdc1")
    assert list(map(str, found)) == ["/media/lead/MY STICK", "/mnt/card"]


def test_mark_of_a_partition_is_its_disks(tmp_path, monkeypatch):
    disk = tmp_path / "devices" / "sdb"
    (disk / "sdb1").mkdir(parents=True)
    (disk / "removable").write_text("1\n")
    block = tmp_path / "block"
    block.mkdir()
    (block / "sdb1").symlink_to(disk / "sdb1")
    monkeypatch.setattr(places, "BLOCK_DEVICES", block)
    assert places.is_removable_device("sdb1") and not places.is_removable_device("sda1")
    (disk / "removable").write_text("0\n")
    assert not places.is_removable_device("sdb1")


def test_volumes_of_a_mac_leave_the_systems_own_out(tmp_path):
    (tmp_path / "STICK").mkdir()
    (tmp_path / "Macintosh HD").symlink_to("/")
    assert [path.name for path in places.list_volumes(tmp_path)] == ["STICK"]


def test_places_of_this_machine_can_be_written_and_have_room():
    for place in places.list_removable_places():
        assert place.path.is_dir() and place.free >= 0


def test_room_of_a_place_that_is_not_there_yet_is_that_of_what_is(tmp_path):
    assert places.measure_free(tmp_path / "a" / "b") > 0


def test_private_ranges_are_those_that_the_authority_vouches_for():
    assert set(addresses.PRIVATE) == set(PRIVATE)


@pytest.mark.parametrize(
    ("address", "is_private"),
    [("10.42.0.1", True), ("192.168.1.5", True), ("172.31.255.1", True), ("172.32.0.1", False),
     ("127.0.0.1", False), ("169.254.3.4", False), ("192.0.2.7", False)],
)  # fmt: skip
def test_addresses_that_phones_could_use(address, is_private):
    assert addresses.is_private(address) is is_private


def test_the_address_towards_other_networks_comes_first(monkeypatch):
    monkeypatch.setattr(addresses, "_find_outward", lambda: "192.168.1.5")
    monkeypatch.setattr(addresses, "_list_by_name", lambda: {"127.0.1.1", "192.168.1.5"})
    monkeypatch.setattr(addresses, "_list_by_interface", lambda: {"127.0.0.1", "10.42.0.1"})
    assert addresses.list_private_addresses() == ["192.168.1.5", "10.42.0.1"]


def test_addresses_of_this_machine_are_its_own(monkeypatch):
    monkeypatch.setattr(addresses, "is_private", lambda _address: True)
    for address in addresses.list_private_addresses():
        with socket.socket() as probe:
            probe.bind((address, 0))


WORDS = ["/opt/my yard/qcapp", "start", "--no-browser", "--port", "8000"]


def test_unit_of_linux_is_switched_on_and_off(tmp_path, monkeypatch):
    monkeypatch.delenv("XDG_CONFIG_HOME", raising=False)
    file = describe_start(WORDS, home=tmp_path, system="linux")
    assert not file.is_on
    switch_on(file)
    switch_on(file)
    assert file.is_on and file.link.resolve() == file.path
    unit = configparser.ConfigParser(strict=False, interpolation=None)
    unit.optionxform = str
    unit.read(file.path)
    assert unit["Service"]["ExecStart"] == (
        '"/opt/my yard/qcapp" "start" "--no-browser" "--port" "8000"'
    )
    assert file.link.parent.name == unit["Install"]["WantedBy"] + ".wants"
    switch_off(file)
    switch_off(file)
    assert not file.is_on and not file.path.exists()


@pytest.mark.skipif(not shutil.which("systemd-analyze"), reason="there is no systemd here")
def test_systemd_itself_accepts_the_unit(tmp_path):
    program = tmp_path / "a 100% $odd" / "qcapp"
    program.parent.mkdir()
    program.write_text("#!/bin/sh\n")
    program.chmod(0o755)
    file = describe_start([str(program), "start"], home=tmp_path, system="linux")
    switch_on(file)
    done = subprocess.run(
        ["systemd-analyze", "--user", "--man=no", "verify", str(file.path)],
        env={"HOME": str(tmp_path), "XDG_RUNTIME_DIR": str(tmp_path)},
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0 and "qcapp" not in done.stderr, done.stderr


def test_command_file_of_windows_says_the_program_in_quotes(tmp_path, monkeypatch):
    monkeypatch.setenv("APPDATA", str(tmp_path))
    file = describe_start([r"C:\My 100% yard\qcapp.exe", "start"], system="win32")
    assert file.path.parent.name == "Startup" and file.path.is_relative_to(tmp_path)
    switch_on(file)
    assert file.path.read_bytes() == (
        b'@echo off\r\nstart "qcapp" /min "C:\\My 100%% yard\\qcapp.exe" "start"\r\n'
    )


def test_agent_of_a_mac_is_a_property_list_with_the_words(tmp_path):
    file = describe_start(WORDS, home=tmp_path, system="darwin")
    switch_on(file)
    said = plistlib.loads(file.path.read_bytes())
    assert said["ProgramArguments"] == WORDS and said["RunAtLoad"] is True
    assert file.path.parent == tmp_path / "Library" / "LaunchAgents"


def test_a_folder_that_cannot_be_written_is_told(tmp_path):
    (tmp_path / "Library").write_text("a file")
    file = describe_start(WORDS, home=tmp_path, system="darwin")
    with pytest.raises(StartError, match="cannot be changed"):
        switch_on(file)
