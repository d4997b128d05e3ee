"""English words that remember what they were made of, so that a page can say them in another
language.
"""

from collections.abc import Mapping
from typing import Any

ENGLISH = "en"


class Phrase(str):
    """English as it stands, a string like any other; `one` and `params` let Locale.translate()
    translate it.

    one: the English pattern, with %(name)s for what is filled in (GNU gettext, python-format);
    many: that for a number other than one, or None; n: the number that chooses. What is filled in
    may be a phrase itself, or a tuple or list, which is written with commas. A count is given as a
    number, so that each language writes it its own way; a number that is a name (of a record, a
    build) is given as text.
    """

    one: str
    many: str | None
    n: int
    params: Mapping[str, Any]

    def __new__(
        cls, one: str, params: Mapping[str, Any], many: str | None = None, n: int = 1
    ) -> "Phrase":
        filled = {
            name: ", ".join(map(str, value)) if isinstance(value, tuple | list) else value
            for name, value in params.items()
        }
        made = super().__new__(cls, (one if many is None or n == 1 else many) % filled)
        made.one, made.many, made.n, made.params = one, many, n, params
        return made

    def __deepcopy__(self, _memo: dict[int, Any]) -> "Phrase":
        return self

    def __reduce__(self) -> tuple[type[str], tuple[str]]:
        return str, (str(self),)


def phrase(pattern: str, **params: Any) -> Phrase:
    """Words with what stands in them: phrase("%(failed)s of %(n)s stoves", failed=3, n=70). A
    percent sign is written %%.
    """
    return Phrase(pattern, params)


def phrase_n(one: str, many: str, n: int, **params: Any) -> Phrase:
    """The same where a number chooses the form; it is also given as %(n)s."""
    return Phrase(one, {"n": n, **params}, many, n)
