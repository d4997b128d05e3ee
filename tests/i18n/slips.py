"""Slips that a reader of a language notices at once, each found in the words of a page."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from html import unescape

# Tags that stand inside a sentence: they leave no break of their own.
INLINE = re.compile(r"</?(?:strong|small|b|em|a)\b[^>]*>")
UNSAID = re.compile(
    r"<(script|style|pre|code|textarea|option|kbd)\b.*?</\1>"
    r'|<(article|ul|h1)[^>]* lang="en" dir="ltr">.*?</\2>|<span lang="en">.*?</span>',
    re.DOTALL,
)
BREAK = " ¶ "
# A number one that is not the end of a longer one, a date or a serial.
ONE = r"(?<![\w.,:/–-])1 "


@dataclass(frozen=True)
class Slip:
    """name: what is wrong. wrong, right: texts that it must find, and must not. spared: words that
    are right where the pattern's group stands.
    """

    name: str
    pattern: str
    wrong: tuple[str, ...]
    right: tuple[str, ...]
    spared: tuple[str, ...] = ()

    def find(self, text: str) -> Iterator[re.Match[str]]:
        for at in re.finditer(self.pattern, text):
            if not (at.lastindex and at[1] in self.spared):
                yield at


def _gender(articles: str, words: str, wrong: str, right: str) -> Slip:
    pattern = rf"\b(?:{'|'.join(articles.split())}) (?:{'|'.join(words.split())})\b"
    return Slip("gender", pattern, (wrong,), (right,))


ENGLISH_SLIPS = (
    Slip(
        "plural of one",
        ONE + r"(?:(?:failed|open|other|earlier|critical|major|minor|new|more) )?([a-z]+[^s\W]s)\b",
        ("1 checks", "took 1 failed checks", "1 stoves wait"),
        ("1 check", "21 checks", "1 is held", "0.1 checks", "B6-1 stoves"),
        ("is", "was", "has", "this", "its", "as", "times", "does", "starts", "stands", "needs"),
    ),
    Slip("plural of one", ONE + r"\w+ (?:were|have|wait)\b", ("1 stove wait",), ("1 stove waits",)),
    Slip("article", r"\ba (?!one\b|once\b|one-|eu|us)[aeiou]\w", ("a apprentice",), ("a used",)),
    Slip("sign for character", r"\d signs\b", ("at most 500 signs",), ("500 characters",)),
    Slip("a word twice", r"\b([a-z]{2,}) \1\b", ("of of 30",), ("that this",), ("that", "had")),
    Slip("blank before a mark", r"[a-z] [,;:?!](?=\s)", ("stoves : two",), ("stoves: two",)),
)
# What is counted, in the language of the checklists’ keys; “within 30 days of” was typed by a yard.
ENGLISH_UNIT = r"(?:\d[ \xa0\u202f]|\()(?:holes|liners|measures|tabs|days)\b(?! of )"
# Not of versions, addresses, moments and file names; in Portuguese it parts thousands.
DECIMAL_POINT = Slip(
    "decimal point",
    r"(?<![\w.:/-])\d+\.(?!\d{3}\b)\d+(?![\w.:/-])",
    ("16.0 mm", "2.4"),
    ("16,0 mm", "1.000 foyers", "0.1.0", "127.0.0.1:8000", "page 3."),
)
FRENCH_SLIPS = (
    DECIMAL_POINT,
    Slip("unit in English", ENGLISH_UNIT, ("19 holes", "valeur (liners)"), ("19\xa0trous",)),
    Slip(
        "contraction",
        r"\b(?:de|à) les? ([a-zé]+)",
        ("de le lot", "à les deux"),
        ("du lot", "de les voir", "sans raison de les former"),
        ("former", "faire", "voir", "dire", "montrer", "bouger", "corriger", "garder"),
    ),
    Slip(
        "elision",
        r"(?<![-\w])(?:[Dd]e|[Ll][ea]|[Qq]ue|ne|se|je|jusque|lorsque) [aeiouyéèêàâîô][a-zéè]",
        ("de artisans", "Que il", "le artisan"),
        ("d’artisans", "de A01", "le lot", "de 8", "modifiez-la et"),
    ),
    Slip(
        "plural of one",
        ONE + r"([a-zéèêàâîôûç]{2,}s)\b",
        ("1 contrôles", "1 foyers"),
        ("1 contrôle", "1 fois", "21 contrôles"),
        ("fois", "mois", "plus", "dans", "sans", "vers", "cas", "mis", "quelques", "repris"),
    ),
    _gender(
        "un le du ce cet aucun",
        "inspection étape liste mesure personne photo page fiche sauvegarde porte grille leçon",
        "le grille",
        "la grille",
    ),
    _gender(
        "une la cette aucune",
        "lot défaut foyer insert contrôle relevé téléphone résumé gabarit numéro récapitulatif",
        "cette téléphone",
        "ce téléphone",
    ),
    Slip(
        "mark without its blank", r"[a-zéèê»)%][:;](?=\s)", ("le lot: deux",), ("le lot\xa0: deux",)
    ),
    Slip("quotation marks", r"[“”]", ("“oui”",), ("«\xa0oui\xa0»",)),
    Slip("straight apostrophe", r"\b(?:[cdjlmnst]|qu)'\w", ("d'un",), ("d’un",)),
    Slip("a word twice", r"\b([a-zé]{2,}) \1\b", ("de de",), ("nous nous",), ("nous", "vous")),
)
PORTUGUESE_SLIPS = (
    DECIMAL_POINT,
    Slip(
        "unit in English",
        f"{ENGLISH_UNIT}|{ENGLISH_UNIT.replace('holes', 'rivets|points|parts|holes')}",
        ("19 holes", "2 rivets"),
        ("2\xa0rebites",),
    ),
    Slip(
        "contraction",
        r"(?<!antes )(?<!depois )\b(?:(?:de|em|por) (?:o|os|a|as)|a os?) (?=[a-zéáâãçõó])",
        ("de o lote", "em a página", "por os furos", "a o meio"),
        ("do lote", "na página", "ao lado", "antes de o mexer", "de um fogão"),
    ),
    Slip(
        "plural of one",
        ONE + r"([a-zéáâãçõóêí]{2,}s)\b",
        ("1 verificações", "1 fogões"),
        ("1 fogão", "1 vez", "21 fogões"),
        ("mês", "mais", "menos", "dos", "das", "nos", "nas", "após", "alguns", "antes"),
    ),
    _gender(
        "um o do no ao este nenhum",
        "inspeção etapa lista medida pessoa fotografia página ficha porta grelha lição operação",
        "o grelha",
        "a grelha",
    ),
    _gender(
        "uma da na à esta nenhuma",
        "lote defeito fogão forro telefone resumo comprador gabarito número registo molde",
        "da telefone",
        "do telefone",
    ),
    Slip("blank before a mark", r"[a-zéáâãçõó] [,;:?!](?=\s)", ("o lote : dois",), ("lote: dois",)),
    Slip("a word twice", r"\b([a-zéáâãç]{2,}) \1\b", ("de de",), ("se se fizer",), ("se",)),
    Slip(
        "older spelling", r"\b(?:inspecç|correct[oa]|acç|projecto)", ("inspecção",), ("inspeção",)
    ),
)
SLIPS = {"en": ENGLISH_SLIPS, "fr": FRENCH_SLIPS, "pt": PORTUGUESE_SLIPS}


def read_words(page: str) -> str:
    """What a page says in its own voice: without scripts, code, YAML and the English guide."""
    main = re.search(r"<main.*</main>", page, re.DOTALL)
    text = UNSAID.sub(BREAK, main[0] if main else page)
    # A blank that does not break is told from one that does.
    text = unescape(re.sub(r"<[^>]*>", BREAK, INLINE.sub("", text)))
    return re.sub(r"[ \n\t]+", " ", text)


def find_slips(text: str, language: str) -> Iterator[str]:
    for slip in SLIPS[language]:
        for at in slip.find(text):
            yield f"{slip.name}: {text[max(0, at.start() - 40) : at.end() + 25].strip()}"
