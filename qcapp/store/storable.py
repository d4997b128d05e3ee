"""Text that every database takes and can index."""

import re
from typing import Any, TypeGuard

# An event of the right form has at most 100 characters of each name.
MAX_NAME = 200
_UNSTORABLE = re.compile("[\0\ud800-\udfff]")


def is_storable(value: Any) -> TypeGuard[str]:
    """No half characters, no zero, not endless."""
    return isinstance(value, str) and 0 < len(value) <= MAX_NAME and not _UNSTORABLE.search(value)
