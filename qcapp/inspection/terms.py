"""Words that stand for the keys of records; one place, so that each is translated once."""

from qcapp.i18n.phrase import Phrase, phrase

SEVERITIES = {"critical": phrase("critical"), "major": phrase("major"), "minor": phrase("minor")}
REGIMES = {
    "normal": phrase("normal"),
    "tightened": phrase("tightened"),
    "reduced": phrase("reduced"),
}
DISPOSITIONS = {
    "release": phrase("release"),
    "rework": phrase("rework"),
    "concession": phrase("concession"),
    "scrap": phrase("scrap"),
    "hold": phrase("hold"),
}
VERDICTS = {
    "pass": phrase("pass"),
    "fail": phrase("fail"),
    "doubtful": phrase("doubtful"),
    "not_applicable": phrase("not applicable"),
    "missing": phrase("missing"),
}
# The shipped checklists' own; a yard's other trades stand as they are named. A local artisan must
# confirm them in each language.
TRADES = {
    "metalwork": phrase("metalwork"),
    "clay": phrase("clay"),
    "firing": phrase("firing"),
    "assembly": phrase("assembly"),
    "paint": phrase("paint"),
}
# How a value near its limit is judged.
RULES = {"simple": phrase("simple"), "guarded": phrase("guarded")}
# What an inspector may give for a check besides readings; a fault of every measured check.
CANNOT_MEASURE = "cannot-measure"
MARKS = {
    "pass": VERDICTS["pass"],
    "fail": VERDICTS["fail"],
    "not_applicable": VERDICTS["not_applicable"],
    "cannot_measure": phrase("cannot be measured"),
    "gauge": phrase("gauge goes on everywhere"),
}
FAULTS = {CANNOT_MEASURE: MARKS["cannot_measure"]}
NOT_NAMED = phrase("not named")
NO_REASON = phrase("no reason recorded")

# A piece of an earlier stage that is built in, as a sheet asks for its serial.
_PIECES = {
    "green-liner": phrase("Serial of the liner, if it has one"),
    "fired-liner": phrase("Serial of the liner, if it has one"),
    "cladding": phrase("Serial of the shell, if it has one"),
}


def ask_for_piece(stage: str) -> Phrase:
    return _PIECES.get(stage) or phrase(
        "Serial of the piece from %(stage)s, if it has one", stage=stage
    )
