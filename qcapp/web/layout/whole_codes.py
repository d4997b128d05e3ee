"""Days and codes that stay on one line.

Browsers break a line after a hyphen, so that on a phone "2026-11-28" or the serial "B5-063" is
read as two. The elements come from many templates and sentences, so they are marked in the
written page, at the one place where every page is made.
"""

import re

# One that is longer may break: a digest, an id of a record.
MAX_WHOLE = 24
# Where an element would be wrong, or shown as text.
OPAQUE = re.compile(
    r"(<(svg|title|option|textarea|script|style)\b.*?</\2>)", re.DOTALL | re.IGNORECASE
)
# Between words: the next bracket opens a tag, so this is text and no attribute (in those, the
# templates write > as &gt;).
IN_TEXT = r"(?=[^<>]*(?:<|\Z))"
JOINED = re.compile(rf"(?<![\w/\\.-])((?:[^\W_]+-)+[^\W_]+|\d\d/\d\d/\d{{4}})(?![\w/\\-]){IN_TEXT}")


def keep_codes_whole(html: str) -> str:
    """html: a page as Jinja wrote it. The words are the same, with an element of the class "whole"
    round each day and each code with a hyphen and a digit: 2026-11-28, 28/11/2026, B5-063.
    """
    pieces = OPAQUE.split(html)
    # Of each three: text with tags, an opaque element, its name.
    return "".join(
        JOINED.sub(_mark, piece) if place % 3 == 0 else piece
        for place, piece in enumerate(pieces)
        if place % 3 != 2
    )


def _mark(found: re.Match[str]) -> str:
    text = found[1]
    if len(text) > MAX_WHOLE or not any(one.isdigit() for one in text):
        return text
    return f'<span class="whole">{text}</span>'
