"""Sticks and cards that are in: where a backup can go that leaves with its owner."""

import ctypes
import os
import re
import shutil
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

MOUNTS = Path("/proc/self/mounts")
BLOCK_DEVICES = Path("/sys/class/block")
# Where desktops put what somebody has just put in.
DESKTOP_ROOTS = ("/media/", "/run/media/")
# GetDriveTypeW's word for a drive that can be taken out (Windows API, winbase.h).
DRIVE_REMOVABLE = 2


@dataclass(frozen=True)
class RemovablePlace:
    """free: bytes that may still be written."""

    path: Path
    free: int


def list_removable_places() -> list[RemovablePlace]:
    """Those that can be written now. Tried on Linux; Windows and macOS by their documentation."""
    if sys.platform == "win32":
        paths = list(_list_drives())
    elif sys.platform == "darwin":
        paths = list_volumes(Path("/Volumes"))
    else:
        paths = list_mounts(MOUNTS.read_text(encoding="utf-8"), is_removable_device)
    return [RemovablePlace(path, measure_free(path)) for path in paths if os.access(path, os.W_OK)]


def list_mounts(mounts: str, is_removable: Callable[[str], bool]) -> list[Path]:
    """Mount points of sticks. mounts: as in /proc/self/mounts; is_removable: by a device's name."""
    found = []
    for line in mounts.splitlines():
        device, point, *_rest = line.split(" ")
        # A blank in a name is written as \040 (getmntent(3)).
        point = re.sub(r"\\(\d{3})", lambda code: chr(int(code[1], 8)), point)
        is_desktops = point.startswith(DESKTOP_ROOTS)
        if device.startswith("/dev/") and (is_desktops or is_removable(Path(device).name)):
            found.append(Path(point))
    return sorted(set(found))


def is_removable_device(name: str) -> bool:
    """Whether the kernel calls the disk of sdb or sdb1 removable."""
    device = (BLOCK_DEVICES / name).resolve()
    for folder in (device, device.parent):
        mark = folder / "removable"
        if mark.is_file():
            return mark.read_text(encoding="ascii").strip() == "1"
    return False


def list_volumes(volumes: Path) -> list[Path]:
    """macOS: all volumes but the system's own, which stands there as a link."""
    return sorted(path for path in volumes.iterdir() if path.is_dir() and not path.is_symlink())


def _list_drives() -> Iterator[Path]:
    kernel = getattr(ctypes, "windll").kernel32  # noqa: B009
    for number in range(26):
        root = f"{chr(ord('A') + number)}:\\"
        if kernel.GetDriveTypeW(root) == DRIVE_REMOVABLE and Path(root).exists():
            yield Path(root)


def measure_free(path: Path) -> int:
    """Bytes that may still be written where the path lies, or will lie."""
    while not path.exists() and path != path.parent:
        path = path.parent
    return shutil.disk_usage(path).free
