"""Browsers of other engines on this machine; only the standard library, so that tests/run.py can
ask first: python3 tests/engines/programs.py names what is missing.
"""

import shutil
import subprocess

# What each engine needs: the package of Debian, and how it is seen to be there.
PACKAGES = {
    "gecko": ("firefox-esr",),
    "webkit": ("webkit2gtk-driver", "gir1.2-webkit2-4.1", "python3-gi", "xvfb"),
}
PROGRAMS = {"firefox-esr": "firefox-esr", "webkit2gtk-driver": "WebKitWebDriver", "xvfb": "Xvfb"}
BINDINGS = (
    "import gi; gi.require_version('Gtk', '3.0'); gi.require_version('WebKit2', '4.1');"
    "from gi.repository import Gtk, WebKit2"
)


def find_program(name):
    """Its path, or None."""
    return shutil.which(name)


def has_bindings():
    """Whether the system's own Python can open a window of WebKit."""
    command = ["/usr/bin/python3", "-c", BINDINGS]
    try:
        return subprocess.run(command, check=False, stderr=subprocess.DEVNULL).returncode == 0
    except OSError:
        return False


def list_missing(engine):
    """Packages that this engine needs and that are not here."""
    missing = [
        package
        for package in PACKAGES[engine]
        if package in PROGRAMS and not find_program(PROGRAMS[package])
    ]
    needs_bindings = set(PACKAGES[engine]) - set(PROGRAMS)
    return missing + (sorted(needs_bindings) if needs_bindings and not has_bindings() else [])
