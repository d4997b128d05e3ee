"""Words in a picture."""

from dataclasses import dataclass
from xml.sax.saxutils import escape

from qcapp.i18n.catalogue import Locale
from qcapp.i18n.localized_text import translate_phrase


@dataclass(frozen=True)
class Label:
    """Words in the picture, not yet said in a language. x, y: SVG units of the anchor."""

    x: float
    y: float
    words: str
    anchor: str
    kind: str

    def write(self, locale: Locale) -> str:
        words = escape(translate_phrase(locale, self.words))
        place = f'x="{self.x:g}" y="{self.y:g}" text-anchor="{self.anchor}"'
        return f'<text class="{self.kind}" {place}>{words}</text>'
