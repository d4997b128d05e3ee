"""The check character of ISO/IEC 7064, system MOD 37,36: a mistyped code is known at once.

It finds every single wrong character and nearly every swap of two neighbours.
Twin of hasCheckCharacter in static/phone/js/inspection/serial.js.
"""

from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase

CHARACTERS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
MODULUS = len(CHARACTERS)


def build_check_character(text: str) -> str:
    """The one to set behind `text` (0-9, A-Z). Raises BadInput for any other character."""
    return CHARACTERS[(1 - _carry(text)) % MODULUS]


def has_check_character(text: str) -> bool:
    """Whether the last character is the check character of those before it."""
    if not text or not set(text) <= set(CHARACTERS):
        return False
    return (_carry(text[:-1]) + CHARACTERS.index(text[-1])) % MODULUS == 1


def _carry(text: str) -> int:
    carry = MODULUS
    for character in text:
        place = CHARACTERS.find(character)
        if place < 0:
            raise BadInput(
                phrase(
                    "a check character cannot be calculated with %(character)s",
                    character=repr(character),
                ),
                text,
                phrase("use 0-9 and A-Z"),
            )
        carry = ((carry + place) % MODULUS or MODULUS) * 2 % (MODULUS + 1)
    return carry
