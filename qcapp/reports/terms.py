"""Words that stand for the keys of records, and troubles told as a reason; one place, so that each is translated once."""

from qcapp.errors import QcappError
from qcapp.words.phrase import phrase

SEVERITIES = {"critical": phrase("critical"), "major": phrase("major"), "minor": phrase("minor")}
STAGES = {"normal": phrase("normal"), "tightened": phrase("tightened"), "reduced": phrase("reduced")}
DISPOSITIONS = {
    "release": phrase("release"), "rework": phrase("rework"), "concession": phrase("concession"), "scrap": phrase("scrap"), "hold": phrase("hold"),
}
VERDICTS = {
    "pass": phrase("pass"), "fail": phrase("fail"), "doubtful": phrase("doubtful"), "not_applicable": phrase("not applicable"),
    "missing": phrase("missing"),
}
# The shipped checklists' own; a yard's other trades stand as they are named. A local artisan must confirm them in each language.
TRADES = {
    "metalwork": phrase("metalwork"), "clay": phrase("clay"), "firing": phrase("firing"), "assembly": phrase("assembly"), "paint": phrase("paint"),
}
# How a value near its limit is judged.
RULES = {"simple": phrase("simple"), "guarded": phrase("guarded")}
NOT_NAMED = phrase("not named")
NO_REASON = phrase("no reason recorded")


def say_trouble(trouble: QcappError) -> str:
    """The same words as str(trouble), of which each part stays a phrase."""
    shown = {"what": trouble.what, "where": trouble.where, "todo": trouble.todo}
    if trouble.where and trouble.todo:
        return phrase("%(what)s (%(where)s): %(todo)s", **shown)
    if trouble.where:
        return phrase("%(what)s (%(where)s)", **shown)
    return phrase("%(what)s: %(todo)s", **shown) if trouble.todo else trouble.what
