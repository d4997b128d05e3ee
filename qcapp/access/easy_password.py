"""Passwords that guessers try first.

Forty thousand guesses a week get past the limits when many addresses make them (attempts.py), so
length alone does not help: NIST SP 800-63B, section 5.1.1.2 (from memory), has values that are
expected or commonly used refused. How many guesses one takes is estimated by zxcvbn (Wheeler 2016,
"zxcvbn: Low-Budget Password Strength Estimation", USENIX Security), to which are given the words
of this trade and the well-known ones of the pages' languages.
"""

import threading
import unicodedata

# At the rate above nearly fifty years; three common words that are not of the trade take as many.
MIN_GUESSES = 10**8
# What stands further back only makes it harder; the estimate's work grows with the length's cube.
LOOKED_AT = 32
WORDS = (
    *("administrateur", "administrador", "administrator", "motdepasse", "palavrapasse", "senha"),
    *("palavrachave", "palavra", "passe", "passwort", "bienvenue", "bemvindo", "bemvinda"),
    *("inspector", "inspecteur", "inspetor", "trainer", "formateur", "formador", "segredo"),
    *("charcoal", "charbon", "carvao", "ceramic", "ceramique", "ceramica", "fourneau"),
    *("fogareiro", "fogao", "stove", "qcapp", "yard", "lead"),
    # Rows of a French keyboard; the library knows the others.
    *("azertyuiop", "qsdfghjklm", "wxcvbn"),
)
# The library keeps the words it is given where every call finds them.
ESTIMATING = threading.Lock()


def is_easy(password: str, code: str) -> bool:
    """Whether a guesser who knows the yard's trade soon comes to it; code: of its account."""
    # Forty milliseconds and sixteen megabytes, for a page that is asked a few times a year.
    from zxcvbn import zxcvbn  # noqa: PLC0415

    known = [code.casefold(), *WORDS]
    with ESTIMATING:
        return any(
            zxcvbn(text, user_inputs=known)["guesses"] < MIN_GUESSES for text in _vary(password)
        )


def _vary(password: str) -> set[str]:
    """Blanks, accents and punctuation are what a guesser varies first; punctuation may also stand
    for a letter.
    """
    plain = unicodedata.normalize("NFKD", password.casefold())
    joined = "".join(char for char in plain if not (char.isspace() or unicodedata.combining(char)))
    letters = "".join(char for char in joined if char.isalnum()) or joined
    return {joined[:LOOKED_AT], letters[:LOOKED_AT]}
