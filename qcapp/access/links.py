"""What a buyer's and an artisan's link have in common."""

from qcapp.errors import NotFound
from qcapp.i18n.phrase import phrase

LONGEST_TOKEN = 100


def refuse_link() -> NotFound:
    """The one answer to a link that opens nothing, whatever the reason."""
    return NotFound(
        phrase("this address is wrong or no longer valid"),
        "",
        phrase("ask the yard for a new one"),
    )
