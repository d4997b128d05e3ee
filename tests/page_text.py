"""A page as its reader reads it, for tests that say what stands on it."""

import html
import re

from markupsafe import escape

# No word and no code of a yard is as long; a link's token, an id and a hash are.
RANDOM = re.compile(r"[A-Za-z0-9+/]{22,}={1,2}|[A-Za-z0-9_-]{22,}")


def drop_marks(page: str) -> str:
    """A page without the elements that keep a day or a code on one line: its sentences as one
    reads them.
    """
    return re.sub(r'<span class="whole">(.*?)</span>', r"\1", page)


def text_of(page) -> str:
    """What a page, or the answer that brought it, says between its tags, on one line."""
    source = page if isinstance(page, str) else page.text
    return html.unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", drop_marks(source))))


def drop_typed(page, typed: str) -> str:
    """The whole source of a page, or of the answer that brought it, without what was typed and
    stands in its field again.
    """
    return (page if isinstance(page, str) else page.text).replace(f'value="{escape(typed)}"', "")


def drop_random(page) -> str:
    """The whole source of a page, or of the answer that brought it, without tokens, ids and
    hashes: a short name or code looked for in vain is met in one of them by chance.
    """
    return RANDOM.sub("", page if isinstance(page, str) else page.text)
