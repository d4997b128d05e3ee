"""Shares as a paper says them: with all digits the summary has, its interval in brackets."""

from collections.abc import Mapping
from typing import Any

from qcapp.i18n.localized_text import Figure
from qcapp.i18n.phrase import Phrase, phrase


def as_percent(share: str) -> Phrase:
    """Decimal text of a share, such as 0.0312: 3.12 %, with no nought at its end."""
    whole = f"{float(share) * 100:.6f}".rstrip("0").rstrip(".")
    return phrase("%(figure)s %%", figure=Figure(whole.replace("-", "−")))


def describe_share(row: Mapping[str, Any]) -> Phrase:
    if row["rate"] is None:
        return phrase("not looked for")
    return phrase(
        "%(rate)s (%(low)s to %(high)s)",
        **{key: as_percent(row[key]) for key in ("rate", "low", "high")},
    )
