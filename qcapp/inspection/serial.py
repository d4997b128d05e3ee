"""Serials: which ways of writing mean one stove, and tags with a check character.

A record always holds the plain serial (B1-007). The tag of a checked batch shows it with a point
and one character more (B1-007.N), and a typed one must come with them: so a slip is found, and
both ways of writing lead to the same stove. Records keep a serial as it was typed, and screens
show it so; stoves are told apart by its key. The rule is tests/vectors/serial/.
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
_SEPARATORS = re.compile(rf"[-/_{_OUTER}]+")
# A hand, an eye and a phone's keyboard confuse these, so they tell no two stoves apart.
_LOOK_ALIKE = str.maketrans("OIL|", "0111")
_LEADING_ZEROS = re.compile("(?<![0-9])0+(?=[0-9])")
# Nobody presents more stoves at once; a longer number is a part of another kind of serial.
_MAX_DIGITS = 9


def has_checked_serials(batch: Mapping[str, Any]) -> bool:
    return batch["attributes"].get(CHECKED) is True


def serial_key(serial: str) -> str:
    """What two serials have in common when they mean one stove: b1 7, Bl-OO7 and B1-007 -> B1-7.

    Case, characters that look alike (O 0, I l 1), blanks, other separators and leading zeros tell
    no stoves apart. Between two digits a separator stays, as one hyphen: B1-007 is not B1007.
    Twin of serialKey in static/phone/js/inspection/serial.js.
    """
    alike = serial.upper().translate(_LOOK_ALIKE)
    key = ""
    for group in _SEPARATORS.split(_LEADING_ZEROS.sub("", alike)):
        key += "-" + group if _is_digit(key[-1:]) and _is_digit(group[:1]) else group
    return key or serial


def _is_digit(character: str) -> bool:
    return character.isascii() and character.isdigit()


def find_serial_number(serial: str, prefix: str) -> int | None:
    """7 of B1-007 in a batch whose serials begin with B1-; None where it begins otherwise.

    Twin of findSerialNumber in static/phone/js/inspection/serial.js.
    """
    key = serial_key(serial)
    digits = re.search(f"[0-9]{{0,{_MAX_DIGITS}}}$", key)
    text = digits[0] if digits else ""
    # A prefix may end in a digit itself, so every cut is tried.
    numbers = (int(text[at:]) for at in range(len(text)))
    return next((one for one in numbers if serial_key(build_serial(prefix, one)) == key), None)


def doubt_serial(serial: str, prefix: str, planned: int) -> str | None:
    """Why a serial is probably a slip: "prefix" where it begins otherwise than the batch's,
    "range" where its number is beyond what was planned; None when it is one of the batch.

    Twin of doubtSerial in static/phone/js/inspection/serial.js.
    """
    number = find_serial_number(serial, prefix)
    if number is None:
        # Without a prefix the yard has serials of its own, of any form.
        return "prefix" if prefix else None
    return None if 1 <= number <= planned else "range"


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
