"""How a language writes numbers and days: 12.5 is 12,5 in French, 2026-11-25 is 25/11/2026
there.
"""

import re
from dataclasses import dataclass
from datetime import date
from functools import cache

from babel import Locale as BabelLocale
from babel import UnknownLocaleError
from babel.numbers import get_decimal_symbol, get_group_symbol

# From five digits on a count is grouped, as ISO 80000-1 allows for four and asks for beyond: 9600,
# 12 500.
FEWEST_GROUPED = 5
DECIMAL = re.compile(r"(?<=\d)\.(?=\d)")


@dataclass(frozen=True)
class NumberFormat:
    """decimal, group: characters of this language; day: pattern of CLDR with the letters d, M, y,
    or None for 2026-11-25.
    """

    decimal: str = "."
    group: str = ","
    day: str | None = None

    def write_number(self, text: str) -> str:
        """A number as English writes it (-12.50, 3.4 %) as this language does, with a real
        minus.
        """
        signed = f"−{text[1:]}" if text.startswith("-") else text
        return DECIMAL.sub(self.decimal, signed)

    def write_count(self, count: int, *, fewest_grouped: int = FEWEST_GROUPED) -> str:
        digits = len(str(abs(count)))
        return f"{count:,}".replace(",", self.group) if digits >= fewest_grouped else str(count)

    def write_day(self, text: str) -> str:
        """2026-11-25, also as the beginning of a moment, as people here write a day; other text as
        it is.
        """
        try:
            day = date.fromisoformat(text[:10])
        except ValueError:
            return text
        if self.day is None:
            return day.isoformat()
        # A year of four digits whatever the pattern says: 03/04/26 could be three things.
        parts = {
            "d": str(day.day),
            "dd": f"{day.day:02}",
            "M": str(day.month),
            "MM": f"{day.month:02}",
        }
        return re.sub(r"y+|MM?|dd?", lambda found: parts.get(found[0], f"{day.year:04}"), self.day)


ENGLISH_FORMAT = NumberFormat()


@cache
def load_number_format(language: str) -> NumberFormat:
    """From CLDR; a language it does not know is written as English is."""
    try:
        locale = BabelLocale.parse(language, sep="-")
    except (UnknownLocaleError, ValueError):
        return ENGLISH_FORMAT
    pattern = locale.datetime_skeletons.get("yMd")
    day = str(getattr(pattern, "pattern", pattern or "")) or None
    # Letters other than day, month and year (an era, a month by name) are beyond what is filled in
    # here.
    is_plain = (
        day is not None and re.fullmatch(r"[dMy/. \-\u200f]+", day) is not None and "MMM" not in day
    )
    return NumberFormat(
        get_decimal_symbol(locale), get_group_symbol(locale), day if is_plain else None
    )
