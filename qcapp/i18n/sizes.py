"""Words for the sizes of the checklists that come with the program; a yard's other sizes stand as
it names them.
"""

from qcapp.i18n.phrase import Phrase, phrase

SIZES: dict[str, Phrase] = {
    "small": phrase("small"),
    "medium": phrase("medium"),
    "large": phrase("large"),
}


def name_size(size: str) -> str:
    """A size as pages and papers say it: a phrase where there is one."""
    return SIZES.get(size, size)
