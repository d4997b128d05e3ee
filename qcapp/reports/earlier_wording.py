"""What page and paper say of the batches before, and of what a sample lets through.

Figures are the decimal texts of the issued summary.
"""

from collections.abc import Mapping
from typing import Any

from qcapp.i18n.localized_text import Figure
from qcapp.i18n.phrase import Phrase, phrase


def as_share(share: str) -> Phrase:
    """Decimal text of a share in percent, without trailing zeros."""
    whole = f"{float(share) * 100:.6f}".rstrip("0").rstrip(".")
    return phrase("%(figure)s %%", figure=Figure(whole))


def word_earlier(document: Mapping[str, Any]) -> list[Phrase]:
    """Empty where the summary has no batches to compare with."""
    earlier, first = document["earlier"], document["first_pass"]
    if earlier is None:
        return []
    before = phrase(
        "The yard's %(batches)s earlier batches of this checklist and size, inspected stove by "
        "stove: %(good)s of %(stoves)s stoves good at the first inspection, %(share)s; by batch "
        "from %(lowest)s to %(highest)s.",
        batches=earlier["batches"],
        good=earlier["good"],
        stoves=earlier["stoves"],
        share=as_share(f"{earlier['good'] / earlier['stoves']:.4f}"),
        lowest=as_share(earlier["lowest"]),
        highest=as_share(earlier["highest"]),
    )
    given = {
        "good": first["good"],
        "of": first["of"],
        "rate": as_share(first["rate"]),
        "low": as_share(earlier["expected_low"]),
        "high": as_share(earlier["expected_high"]),
    }
    here = (
        phrase(
            "Of 100 batches made like them, 95 would lie between %(low)s and %(high)s; this "
            "one, with %(good)s of %(of)s or %(rate)s, is among them.",
            **given,
        )
        if earlier["is_within"]
        else phrase(
            "Of 100 batches made like them, 95 would lie between %(low)s and %(high)s; this one, "
            "with %(good)s of %(of)s or %(rate)s, is not among them.",
            **given,
        )
    )
    return [before, here]


def word_outgoing(plan: Mapping[str, Any]) -> list[Phrase]:
    """One sentence for each severity that a sample decides on."""
    return [
        _word_limit(limit["severity"], limit["outgoing_limit"])
        for limit in plan["limits"]
        if limit["outgoing_limit"] is not None
    ]


def _word_limit(severity: str, share: str) -> Phrase:
    if severity == "major":
        return phrase(
            "However badly stoves are made, on average at most %(share)s leave the yard with a "
            "major fault (AOQL).",
            share=as_share(share),
        )
    return phrase(
        "However badly stoves are made, on average at most %(share)s leave the yard with a minor "
        "fault (AOQL).",
        share=as_share(share),
    )


OUTGOING_CONDITION = phrase(
    "This average outgoing quality limit holds over many batches, if every batch that the sample "
    "rejects is fully inspected and its faulty stoves are repaired or replaced (Dodge and Romig "
    "1959)."
)
