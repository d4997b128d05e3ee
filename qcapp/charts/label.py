"""Words in a picture."""

from dataclasses import dataclass
from xml.sax.saxutils import escape

from qcapp.i18n.catalogue import Locale
from qcapp.i18n.localized_text import translate_phrase

# In SVG units: how wide a chart is, and one character of its text in a wide font, or set close.
WIDTH, CHARACTER, CLOSE_CHARACTER = 328, 7.3, 6.3
EDGE = 2


@dataclass(frozen=True)
class Label:
    """Words in the picture, not yet said in a language. x, y: SVG units of the anchor."""

    x: float
    y: float
    words: str
    anchor: str
    kind: str

    def write(self, locale: Locale) -> str:
        words = translate_phrase(locale, self.words)
        place = f'x="{self.x:g}" y="{self.y:g}" text-anchor="{self.anchor}"'
        return f'<text class="{self.kind}" {place}{self._squeeze(words)}>{escape(words)}</text>'

    def _squeeze(self, words: str) -> str:
        """Words that are longer in another language are set closer, not cut off at the edge."""
        before, behind = self.x - EDGE, WIDTH - EDGE - self.x
        rooms = {"start": behind, "end": before, "middle": 2 * min(before, behind)}
        room = rooms[self.anchor]
        if len(words) * CHARACTER <= room:
            return ""
        length = min(room, len(words) * CLOSE_CHARACTER)
        return f' textLength="{length:g}" lengthAdjust="spacingAndGlyphs"'
