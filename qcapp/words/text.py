"""English words that remember what they were made of, so that a page can say them in another language."""

from collections.abc import Mapping
from typing import Any


class Text(str):
    """English as it stands, a string like any other; `one` and `params` let Words.say() translate it.

    one: the English pattern, with %(name)s for what is filled in (GNU gettext, python-format);
    many: that for a number other than one, or None; n: the number that chooses.
    """

    one: str
    many: str | None
    n: int
    params: Mapping[str, Any]

    def __new__(cls, one: str, params: Mapping[str, Any], many: str | None = None, n: int = 1) -> "Text":
        made = super().__new__(cls, (one if many is None or n == 1 else many) % params)
        made.one, made.many, made.n, made.params = one, many, n, params
        return made


def text(pattern: str, **params: Any) -> Text:
    """Words with what stands in them: text("%(failed)s of %(n)s stoves", failed=3, n=70). A percent sign is written %%."""
    return Text(pattern, params)


def text_n(one: str, many: str, n: int, **params: Any) -> Text:
    """The same where a number chooses the form; it is also given as %(n)s."""
    return Text(one, {"n": n, **params}, many, n)
