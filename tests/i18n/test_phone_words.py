"""The phone's words in every language: whole, with the right forms for a number,
and told to the phone by files alone.
"""

import json
import re
import shutil
import subprocess

import pytest
from babel.messages.pofile import read_po

from qcapp.i18n import catalogue
from qcapp.web.phone.app_files import load_shell
from tests import catalogues
from tests.builders import open_yard
from tests.conftest import CHECKOUT
from tests.phone_catalogue import FORM_NAMES, build_phone_words, list_phone_languages

ENGLISH = json.loads(
    (CHECKOUT / "static" / "phone" / "words" / "en.json").read_text(encoding="utf-8")
)
OTHERS = [language for language in list_phone_languages() if language != "en"]
# As the phone says it: its own words.js, in the words that the server gives.
SAY = """
import { readFileSync } from "node:fs";
Object.defineProperty(globalThis, "navigator", { value: { languages: [] }, configurable: true });
const { t, useLanguage } = await import(process.argv[1]);
const { language, words, asked } = JSON.parse(readFileSync(0));
useLanguage(words, language);
console.log(JSON.stringify(asked.map(([key, n]) => t(key, { n, done: 0 }))));
"""


def say_on_phone(language: str, asked: list[tuple[str, int]]) -> list[str]:
    question = {"language": language, "words": build_phone_words(ENGLISH, language), "asked": asked}
    command = [
        "node",
        "--input-type=module",
        "-e",
        SAY,
        str(CHECKOUT / "static" / "phone" / "js" / "ui" / "words.js"),
    ]
    return json.loads(
        subprocess.run(
            command, input=json.dumps(question), capture_output=True, text=True, check=True
        ).stdout
    )


@pytest.fixture
def languages(tmp_path, monkeypatch):
    """A copy of the catalogues that a test may change: the folder."""
    folder = tmp_path / "languages"
    shutil.copytree(catalogue.FOLDER, folder)
    monkeypatch.setattr(catalogue, "FOLDER", folder)
    monkeypatch.setattr(catalogues, "FOLDER", folder)
    return folder


def mend(path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert text.count(old) == 1, old
    path.write_text(text.replace(old, new), encoding="utf-8")


def test_french_and_portuguese_are_there():
    assert {"fr", "pt"} <= set(OTHERS)


@pytest.mark.parametrize("language", OTHERS)
def test_catalogue_of_the_phone_is_whole(language):
    assert catalogues.list_gaps(language, "phone") == []


@pytest.mark.parametrize("language", OTHERS)
def test_forms_are_named_as_the_phone_names_them(language):
    with (catalogue.FOLDER / language / "phone.po").open("rb") as source:
        kept = read_po(source, locale=language)
    assert kept.get("one other", FORM_NAMES).string == catalogues.name_forms(language, kept)


@pytest.mark.parametrize(
    ("old", "new", "error"),
    [
        ('msgstr "Rejoindre"', 'msgstr ""', "not translated: join.go"),
        ('msgctxt "join.go"\n', '#, fuzzy\nmsgctxt "join.go"\n', "fuzzy: join.go"),
        ('msgctxt "join.go"', 'msgctxt "join.gone"', "not translated: join.go"),
        ('msgstr "PIN de {name}"', 'msgstr "PIN de {nom}"', "places to fill differ: pin.title"),
        ('msgstr "PIN de {name}"', 'msgstr "PIN"', "places to fill differ: pin.title"),
        (
            'msgstr[2] "{n} contrôles à faire"',
            'msgstr[2] "contrôles à faire"',
            "places to fill differ: walk.open",
        ),
        ('msgstr[2] "{n} contrôles à faire"', 'msgstr[2] ""', "not translated: walk.open"),
    ],
)
def test_what_is_missing_or_filled_otherwise_is_told(languages, old, new, error):
    mend(languages / "fr" / "phone.po", old, new)
    (gap,) = catalogues.list_gaps("fr", "phone")
    assert error in gap


def test_new_key_is_a_gap_until_it_is_said_and_stays_english(languages):
    mend(languages / "fr" / "phone.po", 'msgctxt "join.go"', 'msgctxt "join.gone"')
    assert build_phone_words(ENGLISH, "fr")["join.go"] == ENGLISH["join.go"]
    assert build_phone_words(ENGLISH, "fr")["join.title"] == "Rejoindre l’atelier"


@pytest.mark.parametrize(
    ("language", "said"),
    [
        ("en", ["0 checks open", "1 check open", "2 checks open", "1000000 checks open"]),
        (
            "fr",
            [
                "0 contrôle à faire",
                "1 contrôle à faire",
                "2 contrôles à faire",
                "1000000 de contrôles à faire",
            ],
        ),
        (
            "pt",
            [
                "0 verificação por fazer",
                "1 verificação por fazer",
                "2 verificações por fazer",
                "1000000 de verificações por fazer",
            ],
        ),
    ],
)
def test_number_chooses_the_form_on_the_phone(language, said):
    assert say_on_phone(language, [("walk.open", n) for n in (0, 1, 2, 1_000_000)]) == said


@pytest.mark.parametrize("language", OTHERS)
def test_every_text_with_forms_has_one_for_every_number(language):
    with (catalogue.FOLDER / language / "phone.po").open("rb") as source:
        kept = read_po(source, locale=language)
    forms = {
        key: kept.get(entry["one"], key).string
        for key, entry in ENGLISH.items()
        if isinstance(entry, dict)
    }
    numbers = (0, 1, 2, 7, 21, 1_000_000)
    said = say_on_phone(language, [(key, n) for key in forms for n in numbers])
    wanted = []
    for strings in forms.values():
        place_of = catalogues.gettext.c2py(kept.plural_expr)
        wanted += [
            re.sub(
                r"\{(\w+)\}",
                lambda found, n=n: {"done": "0", "n": str(n)}.get(found[1], ""),
                strings[place_of(n)],
            )
            for n in numbers
        ]
    assert len(said) > 100 and said == wanted


@pytest.mark.parametrize("language", OTHERS)
def test_the_phones_file_is_made_of_its_catalogue(language):
    kept = json.loads(
        (CHECKOUT / "static" / "phone" / "words" / f"{language}.json").read_text(encoding="utf-8")
    )
    assert kept == build_phone_words(ENGLISH, language), "run python3 -m tests.catalogues"


def test_every_file_of_the_phone_has_a_catalogue():
    assert {path.stem for path in (CHECKOUT / "static" / "phone" / "words").glob("*.json")} == set(
        list_phone_languages()
    )


def test_language_added_by_files_alone_is_in_the_set_and_changes_the_build(languages, tmp_path):
    static = tmp_path / "static"
    shutil.copytree(CHECKOUT / "static", static)
    before = load_shell(static)
    (languages / "ff-Adlm").mkdir()
    shutil.copy(languages / "fr" / "phone.po", languages / "ff-Adlm" / "phone.po")
    mend(languages / "ff-Adlm" / "phone.po", 'msgstr "Français"', 'msgstr "Ful\\"<fulde>"')
    catalogues.write_phone_words("ff-Adlm", static)
    after = load_shell(static)
    assert after.build != before.build
    assert f"{after.base}phone/words/ff-Adlm.json" in dict(after.list_precached())
    links = re.findall(
        r'<link rel="alternate" hreflang="(.+?)" dir="(.+?)" title="(.+?)" href="(.+?)">',
        after.files["phone/index.html"].decode(),
    )
    assert links[0] == ("en", "ltr", "English", f"{after.base}phone/words/en.json")
    assert (
        "ff-Adlm",
        "rtl",
        "Ful&quot;&lt;fulde&gt;",
        f"{after.base}phone/words/ff-Adlm.json",
    ) in links
    assert len(links) == len(list((static / "phone" / "words").glob("*.json")))


@pytest.mark.parametrize(
    ("wished", "language", "name"),
    [
        ("pt-MZ,pt;q=0.9,en;q=0.5", "pt", "Inspeção de fogões"),
        ("fr", "fr", "Contrôle des foyers"),
        ("de", "en", "Stove inspection"),
        ("", "en", "Stove inspection"),
    ],
)
def test_app_is_installed_under_its_name_in_the_language_of_the_browser(wished, language, name):
    answer = open_yard().client.get("/manifest.webmanifest", headers={"Accept-Language": wished})
    manifest = answer.json()
    assert (manifest["lang"], manifest["name"], manifest["dir"], answer.headers["vary"]) == (
        language,
        name,
        "ltr",
        "Accept-Language",
    )
    assert manifest["start_url"] == "/phone/" and all(
        icon["src"].startswith("/static/") for icon in manifest["icons"]
    )
