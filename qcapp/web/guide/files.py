"""The guide's files: read at the start, made into pages when one is asked for."""

from dataclasses import dataclass, field
from pathlib import Path

from qcapp.errors import StartError
from qcapp.i18n.phrase import ENGLISH

INDEX = "index"


@dataclass(frozen=True, eq=False)
class UserGuide:
    """texts: Markdown by page name; translations: the same by (page name, language), of the pages
    that have them; pictures: PNG files by file name.
    """

    texts: dict[str, str] = field(repr=False)
    pictures: dict[str, bytes] = field(repr=False)
    translations: dict[tuple[str, str], str] = field(default_factory=dict, repr=False)

    def list_languages(self, name: str) -> list[str]:
        """In which a page can be read, English first."""
        return [ENGLISH, *sorted(language for page, language in self.translations if page == name)]


def load_user_guide(static_dir: Path) -> UserGuide:
    """Reads the folder once at start: keeping.md, and keeping.fr.md where it is translated.

    Raises StartError when it has no index.
    """
    folder = static_dir / "guide"
    texts, translations = {}, {}
    for path in folder.glob("*.md"):
        name, _, language = path.stem.partition(".")
        text = path.read_text(encoding="utf-8")
        if language:
            translations[name, language] = text
        else:
            texts[name] = text
    if INDEX not in texts:
        raise StartError(
            "the guide's files are not here",
            str(folder),
            "set QCAPP_STATIC_DIR to the static folder",
        )
    pictures = {path.name: path.read_bytes() for path in (folder / "pictures").glob("*.png")}
    return UserGuide(texts, pictures, translations)
