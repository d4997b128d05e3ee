"""Every page in every language: catalogues are whole, no English is left in a page,
the choice is kept, numbers and days are as people write them.
"""

import re
from html import unescape

import pytest

from qcapp.checklist.load import load_checklist
from qcapp.i18n.catalogue import ENGLISH, list_languages, load_locale, name_language
from qcapp.i18n.number_format import load_number_format
from qcapp.i18n.phrase import phrase, phrase_n
from qcapp.i18n.sizes import name_size
from qcapp.programme_app import create_programme, list_stores, load_programme
from qcapp.settings import Settings
from qcapp.usecases.open_store import publish_folder
from qcapp.web.middleware.language import COOKIE, read_accepted
from tests.builders import NOW, ROOT, make_cookie, open_client, open_yard
from tests.catalogues import DOMAINS, extract, list_gaps, read_catalogue

pytestmark = pytest.mark.slow

OTHERS = [language for language in list_languages() if language != ENGLISH]
# A piece of English this long that stands in another language's page was forgotten, not met by
# chance.
MIN_WORDS = 4
PROGRAMME = """
name: River programme
address: http://programme.example
database: programme.db
yards: [{name: North yard, address: "http://north.example", database: north.db}]
"""


def text_of(page: str) -> str:
    """What a reader gets: text, also of charts, labels and what stands in empty fields."""
    page = re.sub(r"<pre\b.*?</pre>", " ", page, flags=re.DOTALL)
    # The guide is English, and its page says so to the browser.
    page = re.sub(r'<(article|ul|h1)[^>]* lang="en" dir="ltr">.*?</\1>', " ", page, flags=re.DOTALL)
    labels = " ".join(
        re.findall(r'(?:aria-label|placeholder|alt|title|data-label)="([^"]*)"', page)
    )
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", page) + " " + labels).split())


def list_pieces() -> set[str]:
    """English of what pages, reports and charts say, cut where something is filled in,
    without what is too short to be telling.
    """
    found: set[str] = set()
    for message in (*extract("pages"), *extract("figures")):
        for text in (message.id,) if isinstance(message.id, str) else message.id:
            # Commands are typed as they are in every language.
            pieces = re.split(r"%\(\w+\)s|<code[^>]*>[^<]*</code>|<[^>]*>", text.replace("%%", "%"))
            found |= {
                " ".join(piece.split())
                for piece in pieces
                if len(re.findall("[A-Za-z]{2,}", piece)) >= MIN_WORDS
            }
    return found


@pytest.mark.parametrize("language", OTHERS)
def test_the_pages_catalogue_of_every_language_is_whole(language):
    gaps = list_gaps(language, "pages")
    assert not gaps, "run python3 -m tests.catalogues, then translate:\n" + "\n".join(gaps[:20])


def test_french_marks_keep_to_their_word():
    """The space before them does not break, or a line would begin with a colon."""
    texts = [
        text
        for domain in DOMAINS
        for message in read_catalogue("fr", domain)
        for text in ([message.string] if isinstance(message.string, str) else message.string)
        if message.id
    ]
    assert len(texts) > 2000
    assert not [text for text in texts if re.search(r" [;:?!»]|« ", text)]


def test_no_language_is_a_copy_of_another():
    sentences = [
        message.id
        for message in extract("pages")
        if isinstance(message.id, str) and len(message.id.split()) >= MIN_WORDS
    ]
    for language in OTHERS:
        for other in (ENGLISH, *OTHERS):
            words, theirs = load_locale(language), load_locale(other)
            same = [text for text in sentences if words.gettext(text) == theirs.gettext(text)]
            assert language == other or len(same) < len(sentences) / 50, (language, other, same[:5])


def test_french_and_portuguese_are_there_and_call_themselves_so():
    assert [(language, name_language(language)) for language in list_languages()] == [
        ("en", "English"),
        ("fr", "Français"),
        ("pt", "Português"),
    ]


@pytest.mark.parametrize("language", OTHERS)
def test_every_page_speaks_the_language_and_leaves_no_english_of_its_own(filled, language):
    pieces, left = list_pieces(), []
    assert len(pieces) > 500
    for address in filled.addresses:
        answer = filled.client.get(address, headers={"Accept-Language": f"{language}-XX,en;q=0.3"})
        assert (
            f'<html lang="{language}"' in answer.text
            and answer.headers["content-language"] == language
        ), address
        assert "Accept-Language" in answer.headers["vary"] and "Cookie" in answer.headers["vary"]
        assert answer.headers["cache-control"] == "no-store"
        text = text_of(answer.text)
        left += [(address, piece) for piece in pieces if piece in text]
    assert not left, left[:10]


def test_every_page_is_english_where_nothing_else_is_wished(filled):
    for address in filled.addresses:
        answer = filled.client.get(address)
        assert '<html lang="en"' in answer.text and answer.headers["content-language"] == "en", (
            address
        )
        assert "%(" not in answer.text and "Phrase(" not in answer.text


def test_a_chosen_language_is_kept_for_a_year_and_found_by_its_own_name():
    yard = open_yard()
    page = yard.client.get("/batches?skip=0&language=pt")
    cookie = page.headers["set-cookie"]
    assert (
        "Lotes" in page.text
        and re.search(r"HttpOnly; Max-Age=31536000; Path=/; SameSite=lax", cookie)
        and "Secure" not in cookie
    )
    assert "Lotes" in yard.client.get("/batches", headers={"Accept-Language": "fr"}).text, (
        "what was chosen goes before what the browser is set to"
    )
    assert '<a href="?skip=0&amp;language=fr" lang="fr" hreflang="fr">Français</a>' in page.text
    assert 'hreflang="pt" aria-current="true">Português</a>' in page.text
    assert (
        "Batches" in yard.client.get("/batches?language=en").text
        and "Batches" in yard.client.get("/batches").text
    )


def test_over_https_the_choice_stays_there(filled):
    client = open_client(filled.client.app, address="https://yard.example")
    assert "Secure" in client.get("/sign-in?language=fr").headers["set-cookie"]


def test_an_unknown_language_is_no_choice():
    yard = open_yard()
    for wish in ("xx", "", "../fr", "FR"):
        answer = yard.client.get("/batches", params={"language": wish})
        assert "set-cookie" not in answer.headers and '<html lang="en"' in answer.text
    yard.client.cookies.set(COOKIE, "nonsense")
    assert (
        '<html lang="fr"' in yard.client.get("/batches", headers={"Accept-Language": "fr-CI"}).text
    )


def test_wishes_are_read_by_their_weight():
    assert read_accepted("en;q=0.2, pt-MZ, fr;q=0.9, *;q=0.1, xx;q=0, yy;q=high") == [
        "pt-MZ",
        "fr",
        "en",
    ]
    assert read_accepted("") == []


def test_the_link_to_another_language_is_a_page_even_after_a_form():
    yard = open_yard()
    refused = yard.client.post("/yard/join-codes", data={}, headers={"Accept-Language": "fr"})
    assert (
        refused.status_code == 422
        and 'href="/?language=pt"' in refused.text
        and "Ce champ manque." in refused.text
    )
    assert 'href="?language=pt"' in yard.client.post("/yard/import", data={}).text


def test_what_machines_read_stays_english(filled):
    french = {
        "Accept-Language": "fr",
        "Cookie": "; ".join(
            [f"{COOKIE}=fr", *(f"{key}={value}" for key, value in filled.client.cookies.items())]
        ),
    }
    for address in (
        "/api/batches/B6",
        "/api/trainer/teach",
        "/trainer/tables/teach.csv",
        "/api/openapi.json",
        "/api/batches/NONE",
    ):
        mine, plain = (
            filled.client.get(address, headers=headers)
            for headers in (french, {"Cookie": french["Cookie"].split("; ", 1)[1]})
        )
        assert mine.content == plain.content and "content-language" not in mine.headers, address
    assert (
        filled.client.get("/api/batches/NONE", headers=french).json()["error"]["what"]
        == "there is no such batch"
    )


def test_errors_are_told_in_the_readers_language():
    yard = open_yard()
    french = {"Accept-Language": "fr"}
    page = text_of(yard.client.get("/batches/NONE", headers=french).text)
    assert (
        "Cela n’a pas marché" in page
        and "Ce lot n’existe pas. NONE" in page
        and "Voyez la liste des lots." in page
    )
    assert "Il n’y a pas de page à cette adresse." in text_of(
        yard.client.get("/nowhere", headers=french).text
    )
    assert "There is no page at this address." in text_of(yard.client.get("/nowhere").text)


def test_numbers_and_days_are_written_as_the_language_does():
    french, portuguese, english = (load_locale(language) for language in ("fr", "pt", "en"))
    said = phrase("a whole number of %(least)s or more is expected", least=12500)
    assert french.translate(said) == "un nombre entier à partir de 12\u202f500 est attendu"
    assert "12.500" in portuguese.translate(said) and "12500" in english.translate(said)
    assert (
        french.number_format.write_number("-12.50 %") == "−12,50 %"
        and french.number_format.write_day("2026-11-05T08:00:00Z") == "05/11/2026"
    )
    assert (
        english.number_format.write_day("2026-11-05T08:00:00Z") == "2026-11-05"
        and french.number_format.write_day("x") == "x"
    )
    assert french.translate(phrase_n("%(n)s record", "%(n)s records", 0)) == "0 fiche"
    assert english.translate(phrase("%(n)s records", n=12500)) == "12500 records"
    assert french.write((phrase("none"), "B1", 2.5, True)) == "aucun, B1, 2,5, True"


def test_a_pattern_may_say_how_many_places(monkeypatch):
    locale = load_locale("fr")
    monkeypatch.setattr(locale._catalogue, "gettext", lambda pattern: pattern)
    assert (
        locale.translate(phrase("mean %(mean).2f mm, 95 %% of %(n)s", mean=-1.5, n=20000))
        == "mean −1,50 mm, 95 % of 20\u202f000"
    )


def test_a_language_cldr_does_not_know_is_written_as_english():
    assert (
        load_number_format("xx").write_number("1.5") == "1.5"
        and load_number_format("xx").write_day("2026-11-05") == "2026-11-05"
    )
    assert load_number_format("pt-BR").decimal == "," and load_number_format("sw").day == "d/M/y"


def test_a_programmes_page_and_its_trail_speak_it_too(tmp_path):
    (tmp_path / "programme.yaml").write_text(PROGRAMME)
    served = create_programme(
        load_programme(tmp_path / "programme.yaml"), Settings(), tmp_path, clock=lambda: NOW
    )
    cookie = make_cookie(list_stores(served)["programme.example"], role="programme_lead")
    client = open_client(served, cookie=cookie, address="http://programme.example")
    for address, words in (
        ("/", "Aucun foyer fini contrôlé encore"),
        ("/trail", "Qui a fait quoi"),
    ):
        text = text_of(client.get(address, headers={"Accept-Language": "fr"}).text)
        assert words in text and not [piece for piece in list_pieces() if piece in text]


def test_forms_of_the_first_hour_are_refused_in_the_readers_language():
    yard, french = open_yard(), {"Accept-Language": "fr"}
    for address, fields, words in (
        ("/yard/name", {}, "Le nom est vide ou trop long. Écrivez de 1 à 80 caractères."),
        ("/yard/people", {"name": "Ana"}, "Rien n’est coché. Cochez ce que fait cette personne"),
        ("/yard/crew", {"crew.metalwork": "I01"}, "Personne de code I01 n’a le métier tôlerie."),
        ("/yard/batches", {"code": "B9", "planned": "x"}, "Ce n’est pas un nombre de foyers."),
        ("/yard/work", {}, "Aucune taille n’est cochée."),
    ):
        answer = yard.client.post(address, data=fields, headers=french)
        text = text_of(answer.text)
        assert (
            answer.status_code == 400 and words in text and "Rien n’est encore enregistré." in text
        ), (address, text)
        assert not [piece for piece in list_pieces() if piece in text]


def test_what_the_check_of_an_own_checklist_finds_is_said_too():
    """As page and as the page's script gets it; what names what was seen is the same for all."""
    yard = open_yard()
    publish_folder(yard.store, ROOT / "checklists", "2026-11-01T00:00:00.000Z")
    page, revision = (
        "/yard/checklist-text",
        load_checklist(ROOT / "checklists" / "finished-stove.yaml").revision,
    )
    text = (
        yard.client.get("/yard/checklists/finished-stove.yaml")
        .text.replace(f"revision: {revision}", f"revision: {revision + 1}", 1)
        .replace("upper: 103", "upper: 108.5", 1)
    )
    french, english = (
        yard.client.post(
            f"{page}/check",
            data={"text": text},
            headers={"Accept": "application/json", "Accept-Language": language},
        ).json()
        for language in ("fr", "en")
    )
    assert [len(found["notices"]) for found in (french, english)] == [2, 2]
    assert "108,5 mm" in french["notices"][0]["text"]
    assert "108.5 mm" in english["notices"][0]["text"]
    assert "108,5 mm" in french["changes"][0]["text"]
    shown = [
        yard.client.post(page, data={"text": text}, headers={"Accept-Language": language}).text
        for language in ("fr", "en")
    ]
    assert len({re.search(r'name="seen" value="(\w+)"', one)[1] for one in shown}) == 1
    words = text_of(shown[0])
    assert "Lisez ceci avant de publier." in words and 'data-silent="Pas vérifié' in shown[0]
    assert not [piece for piece in list_pieces() if piece in words]
    lines = text_of(
        yard.client.post(page, data={"text": "id: x\n"}, headers={"Accept-Language": "fr"}).text
    )
    assert re.search(r"Ligne 1, \w+ : manque ; ajoutez ", lines)


def test_sizes_are_named_in_the_readers_language_and_a_yards_own_as_it_names_them():
    yard = open_yard()
    page = text_of(yard.client.get("/batches/B1", headers={"Accept-Language": "fr"}).text)
    assert "taille moyenne" in page and "medium" not in page
    assert "size medium" in text_of(yard.client.get("/batches/B1").text)
    assert name_size("M-12") == "M-12"
