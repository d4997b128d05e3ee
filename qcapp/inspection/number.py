"""What a typed text means as a number: one written grammar for both languages.

`float()` and JavaScript's `Number` disagree on many texts (empty, underscore, exponent, foreign
digits), so neither ever sees a typed text. The twin is static/phone/js/inspection/number.js; the
rule that both follow is tests/vectors/number/.
"""

import re

# Listed by hand because Python's strip() and JavaScript's trim() remove different characters.
OUTER_SPACES = " \t\n\r\u00a0\u202f"

_DIGIT_SETS = (
    "\u0660\u0661\u0662\u0663\u0664\u0665\u0666\u0667\u0668\u0669",
    "\u06f0\u06f1\u06f2\u06f3\u06f4\u06f5\u06f6\u06f7\u06f8\u06f9",
)
_TO_ASCII = str.maketrans(
    {digit: str(value) for digits in _DIGIT_SETS for value, digit in enumerate(digits)}
    | {",": ".", "\u066b": "."}
)
CANONICAL_PATTERN = r"[0-9]{1,7}(?:\.[0-9]{1,4})?"
_CANONICAL = re.compile(CANONICAL_PATTERN)


def parse_number(text: object) -> str | None:
    """Canonical text of a typed number ("12,50" -> "12.50"), or None when it is not one.

    Digits may be ASCII, Arabic-Indic or Persian; the separator a point, a comma or U+066B. One to
    seven digits, then at most one separator with one to four digits; nothing else. Anything that
    is not a text gives None.
    """
    if not isinstance(text, str):
        return None
    if _CANONICAL.fullmatch(text):
        return text
    canonical = text.strip(OUTER_SPACES).translate(_TO_ASCII)
    return canonical if _CANONICAL.fullmatch(canonical) else None


def number_value(canonical: str) -> float:
    """The nearest binary double of a canonical text; both languages round to the same one."""
    return float(canonical)
