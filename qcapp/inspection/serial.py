"""Serials as they stand on tags: with a check character, where the batch asks for it.

A record always holds the plain serial (B1-007). The tag of a checked batch shows it with a point
and one character more (B1-007.N), and a typed one must come with them: so a slip is found, and
both ways of writing lead to the same stove. The rule is tests/vectors/serial/.
"""

import re
from collections.abc import Mapping
from typing import Any

from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase
from qcapp.inspection.check_character import build_check_character, has_check_character

# The attribute of a batch that turns check characters on; phones get it with the batch.
CHECKED = "checked_serials"
# No plain serial of this project's own making holds it, and every keyboard has it.
POINT = "."
MAX_CHARACTERS = 40
# Written between the characters that count; skipping them loses nothing.
_BETWEEN = re.compile(r"[-/_ ]")
_OUTER = " \t\n\r\u00a0\u202f"


def has_checked_serials(batch: Mapping[str, Any]) -> bool:
    return batch["attributes"].get(CHECKED) is True


def build_serial(prefix: str, number: int) -> str:
    """B1- and 7 -> B1-007; twin of proposeSerial in static/phone/js/inspection/serial.js."""
    return f"{prefix}{number:03d}"


def build_tag_serial(serial: str) -> str:
    """B1-007 -> B1-007.N. Raises BadInput where the serial has signs beyond A-Z and 0-9."""
    characters = _characters_of(serial)
    if not serial.isascii() or not characters.isalnum():
        raise BadInput(
            phrase("%(serial)s can have no check character", serial=repr(serial)),
            "serial",
            phrase("use A-Z, 0-9 and hyphens, or plain serials for this batch"),
        )
    return f"{serial}{POINT}{build_check_character(characters)}"


def check_tag_serial(typed: str) -> str:
    """B1-007.N -> B1-007. Raises BadInput when the check character is absent or does not fit."""
    text = typed.strip(_OUTER)
    serial, point, check = text.rpartition(POINT)
    serial, check = serial.strip(_OUTER), check.strip(_OUTER).upper()
    if not point or not serial or len(check) != 1:
        raise BadInput(
            phrase("%(text)s has no check character", text=repr(text)),
            "serial",
            phrase("type it as on the tag: the serial, a point, one more character"),
        )
    # Upper case makes ASCII of some other letters, so the text itself is asked too.
    characters = _characters_of(serial)
    if not text.isascii() or not characters or not has_check_character(characters + check):
        raise BadInput(
            phrase("%(text)s is mistyped: its check character does not fit", text=repr(text)),
            "serial",
            phrase("compare it with the tag, character by character"),
        )
    return serial


def read_serial(typed: str, *, prefix: str, is_checked: bool) -> str:
    """The plain serial that a typed or scanned text means.

    In a checked batch the check character and the prefix must be there, in any case of letters;
    else the text is taken as it is. Raises BadInput.
    """
    text = typed.strip(_OUTER)
    if not text or len(text) > MAX_CHARACTERS or not text.isprintable():
        raise BadInput(
            phrase("the serial is missing") if not text else phrase("this is not a serial"),
            "serial",
            phrase("type the serial that is on the stove"),
        )
    if not is_checked:
        return text
    serial = check_tag_serial(text)
    if not serial.upper().startswith(prefix.upper()):
        raise BadInput(
            phrase("%(serial)s is not a serial of this batch", serial=repr(serial)),
            "serial",
            phrase("serials of this batch begin with %(prefix)s", prefix=prefix),
        )
    return prefix + serial[len(prefix) :]


def _characters_of(serial: str) -> str:
    return _BETWEEN.sub("", serial).upper()
