"""Names of files that are taken away: they say whose they are, in letters that every disk takes."""

import re
import unicodedata


def name_file(*parts: str) -> str:
    """The parts joined, such as upper-yard-B5; what is left empty falls out."""
    return "-".join(filter(None, map(_simplify, parts)))


def _simplify(text: str) -> str:
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode()
    return re.sub(r"[^A-Za-z0-9]+", "-", plain).strip("-")[:60]
