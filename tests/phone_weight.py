"""What the phone must fetch: for its first screen, and for everything it keeps for no signal."""

import posixpath
import re

from qcapp.web.phone.app_files import Shell

STATIC_IMPORT = re.compile(r"""^(?:import|export)\b[^;]*?["'](\.[^"']+)["'];""", re.MULTILINE)
# Also what a worker begins with.
LAZY_IMPORT = re.compile(r"""\b(?:import\(|new URL\()\s*["'](\.[^"']+)["']""")
PAGE, STYLE = "phone/index.html", "phone/css/phone.css"
ENTRIES = ("phone/js/main.js", "phone/js/worker_registration.js")


def list_imports(shell: Shell, script: str, pattern: re.Pattern) -> set[str]:
    """Paths below static/ that the script names with the pattern."""
    folder = posixpath.dirname(script)
    found = pattern.findall(shell.files[script].decode())
    return {posixpath.normpath(posixpath.join(folder, target)) for target in found}


def list_modules(shell: Shell, entries: tuple[str, ...] = ENTRIES, *, lazy: bool = False) -> set:
    """Every script reached from the entries; those fetched later only when asked for."""
    found: set[str] = set()
    waiting = list(entries)
    while waiting:
        script = waiting.pop()
        if script in found:
            continue
        found.add(script)
        waiting += list_imports(shell, script, STATIC_IMPORT)
        waiting += list_imports(shell, script, LAZY_IMPORT) if lazy else []
    return found


def weigh(shell: Shell, paths) -> int:
    """Bytes of the files packed with gzip, each by itself, as a phone gets them."""
    return sum(len(shell.pack(path)) for path in paths)


def weigh_words(shell: Shell) -> int:
    """The longest language: a phone reads one of them."""
    return max(len(shell.pack(path)) for path in shell.files if path.startswith("phone/words/"))


def weigh_first_screen(shell: Shell) -> int:
    return weigh(shell, {PAGE, STYLE, *list_modules(shell)}) + weigh_words(shell)


def weigh_lazy(shell: Shell) -> int:
    return weigh(shell, list_modules(shell, lazy=True) - list_modules(shell))


def list_kept(shell: Shell) -> set[str]:
    """Paths below static/ of everything that the worker keeps."""
    kept = [address for address, _digest in shell.list_precached()]
    return {PAGE if address == "/phone/" else address.removeprefix(shell.base) for address in kept}
