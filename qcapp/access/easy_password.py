"""Passwords that guessers try first: well-known words, rows of keys, one piece again and again.

Forty thousand guesses a week get past the limits when many addresses make them (attempts.py), so
length alone does not help: NIST SP 800-63B, section 5.1.1.2 (from memory), has values that are
expected or commonly used refused. What is well known is taken out, and enough must be left.
"""

import re
import unicodedata

# In the languages of the pages, the longer ones first.
WORDS = (
    *("administrateur", "administrador", "administrator", "motdepasse", "palavrapasse"),
    *("palavrachave", "palavra", "password", "passwort", "welcome", "bienvenue", "bemvindo"),
    *("bemvinda", "letmein", "inspector", "inspecteur", "inspetor", "trainer", "formateur"),
    *("formador", "secret", "segredo", "charcoal", "charbon", "carvao", "ceramic", "ceramique"),
    *("ceramica", "fourneau", "fogareiro", "fogao", "stove", "qcapp", "admin", "senha", "passe"),
    *("pass", "login", "yard", "lead"),
)
ROWS = (
    *("abcdefghijklmnopqrstuvwxyz", "01234567890"),
    *("qwertyuiop", "asdfghjkl", "zxcvbnm", "azertyuiop", "qsdfghjklm", "wxcvbn"),
)
MIN_RUN = 3
MIN_LEFT, MIN_DIFFERENT = 8, 5
REPEATED = re.compile(r"(.+?)\1+")


def is_easy(password: str, code: str) -> bool:
    """Whether too little is left of it without what is well known; code: of its account."""
    plain = unicodedata.normalize("NFKD", password.casefold())
    left = "".join(char for char in plain if not unicodedata.combining(char) and not char.isspace())
    for word in (code.casefold(), *WORDS):
        left = left.replace(word, "")
    left = REPEATED.sub(r"\1", _drop_runs(left))
    return len(left) < MIN_LEFT or len(set(left)) < MIN_DIFFERENT


def _drop_runs(text: str) -> str:
    """Without neighbours on a keyboard, in the alphabet or in counting, in either direction."""
    kept, at = "", 0
    while at < len(text):
        length = max(_measure_run(text[at:], row) for row in (*ROWS, *(row[::-1] for row in ROWS)))
        if length < MIN_RUN:
            kept += text[at]
        at += length if length >= MIN_RUN else 1
    return kept


def _measure_run(text: str, row: str) -> int:
    length = 0
    while length < len(text) and text[: length + 1] in row:
        length += 1
    return length
