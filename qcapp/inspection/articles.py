"""What is inspected at a stage, counted in words: stoves, liners, kiln loads."""

from qcapp.i18n.phrase import Phrase, phrase_n


def count_articles(n: int, stage: str) -> Phrase:
    """ "74 liners": what is inspected at a stage of the checklists that come with the program;
    "74 pieces" at a yard's own.
    """
    match stage:
        case "finished":
            return phrase_n("%(n)s stove", "%(n)s stoves", n)
        case "cladding":
            return phrase_n("%(n)s shell", "%(n)s shells", n)
        case "blanks":
            return phrase_n("%(n)s set of blanks", "%(n)s sets of blanks", n)
        case "bedding":
            return phrase_n("%(n)s bedded stove", "%(n)s bedded stoves", n)
        case "green-liner" | "fired-liner":
            return phrase_n("%(n)s liner", "%(n)s liners", n)
        case "firing":
            return phrase_n("%(n)s kiln load", "%(n)s kiln loads", n)
    return phrase_n("%(n)s piece", "%(n)s pieces", n)


def count_faulty(n: int, stage: str) -> Phrase:
    """ "3 faulty liners": see count_articles."""
    match stage:
        case "finished":
            return phrase_n("%(n)s faulty stove", "%(n)s faulty stoves", n)
        case "cladding":
            return phrase_n("%(n)s faulty shell", "%(n)s faulty shells", n)
        case "blanks":
            return phrase_n("%(n)s faulty set of blanks", "%(n)s faulty sets of blanks", n)
        case "bedding":
            return phrase_n("%(n)s faulty bedded stove", "%(n)s faulty bedded stoves", n)
        case "green-liner" | "fired-liner":
            return phrase_n("%(n)s faulty liner", "%(n)s faulty liners", n)
        case "firing":
            return phrase_n("%(n)s faulty kiln load", "%(n)s faulty kiln loads", n)
    return phrase_n("%(n)s faulty piece", "%(n)s faulty pieces", n)
