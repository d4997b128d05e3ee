"""Each unit of the shipped checklists has a word in each language, on pages and on the phone."""

import json
from pathlib import Path

from qcapp.checklist.base_check import NumberCheck
from qcapp.checklist.load import load_checklist
from qcapp.i18n.catalogue import list_languages, load_locale
from qcapp.i18n.units import UNITS, name_unit

ROOT = Path(__file__).resolve().parents[2]
# International signs, the same in every language (SI brochure, 9th edition), and per cent.
SIGNS = {"mm", "cm²", "g", "kg", "h", "°C", "%"}


def test_each_unit_of_the_shipped_checklists_is_a_sign_or_has_words():
    units = {
        check.unit
        for path in (ROOT / "checklists").glob("*.yaml")
        for check in load_checklist(path).checks
        if isinstance(check, NumberCheck)
    }
    assert len(units) > len(SIGNS)
    assert units - SIGNS == set(UNITS)


def test_pages_and_phone_name_the_same_units_alike():
    for language in list_languages():
        path = ROOT / "static" / "phone" / "words" / f"{language}.json"
        said = json.loads(path.read_text(encoding="utf-8"))
        on_phone = {key[5:]: text for key, text in said.items() if key.startswith("unit.")}
        locale = load_locale(language)
        assert on_phone == {unit: locale.translate(name_unit(unit)) for unit in UNITS}
