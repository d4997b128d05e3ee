"""The phone in other languages: chosen, kept, walked in;
and every screen with long words and from the right to the left.
"""

from pathlib import Path

import pytest

from tests.conftest import PHONE
from tests.e2e.app_modules import with_modules
from tests.e2e.inspector import Inspector, open_rest
from tests.e2e.phone_words import list_words, word
from tests.e2e.screens.tour import FIND_BROKEN, FIND_CUT, show, tour
from tests.e2e.server import YardServer, open_small_yard, read_checklist
from tests.i18n import pseudo

SMALL = {**PHONE, "viewport": {"width": 320, "height": 568}}


@pytest.fixture
def server(tmp_path):
    with open_small_yard(tmp_path) as server:
        yield server


@pytest.fixture
def pseudo_server(tmp_path):
    pseudo.write_languages(tmp_path / "languages", tmp_path / "static")
    pseudo.write_checklists(tmp_path / "checklists")
    with open_small_yard(
        tmp_path, checklists_dir=tmp_path / "checklists", static_dir=tmp_path / "static"
    ) as server:
        yield server


def read_root(page) -> list[str]:
    return page.evaluate(
        "[document.documentElement.lang, document.documentElement.dir, document.title]"
    )


@pytest.mark.parametrize(
    ("locale", "language", "mark", "title"),
    [
        ("fr-CI", "fr", ",", "Contrôle des foyers"),
        ("pt-MZ", "pt", ",", "Inspeção de fogões"),
        ("de-DE", "en", ".", "Stove inspection"),
    ],
)
def test_a_stove_is_walked_and_sent_in_the_language_of_the_phone(
    server, chromium, shot, locale, language, mark, title
):
    context = chromium.new_context(**PHONE, locale=locale)
    inspector = Inspector(
        context.new_page(), read_checklist(server, "finished-stove"), language=language
    )
    inspector.join(server.address, server.make_code())
    assert read_root(inspector.page) == [language, "ltr", title]
    assert inspector.start_stove() == "B1-001"
    assert mark == inspector.page.evaluate(
        with_modules("""async () => {
      const { decimalMark } = await load('ui/words.js');
      return decimalMark();
    }""")
    )
    inspector.walk({"door-opening-width": "106.5"}, photo=shot)
    inspector.page.get_by_text(f"106{mark}5 mm").wait_for()
    inspector.save()
    inspector.page.get_by_role("button", name=inspector.words["saved.today"]).tap()
    open_rest(inspector.page)
    inspector.page.get_by_text(inspector.words["today.kept"]["one"].format(kept=1, n=1)).wait_for()
    context.close()
    (event,) = server.list_events("inspection")
    assert event["body"]["answers"]["door-opening-width"]["values"] == ["106.5"]
    assert event["body"]["disposition"]["kind"] == "rework"


def test_language_is_found_by_its_own_name_and_kept_without_signal(server, open_phone):
    context = open_phone(locale="en-GB")
    page = context.pages[0]
    page.goto(f"{server.address}/phone/")
    page.get_by_role("button", name="Português").tap()
    page.get_by_role("heading", name=list_words("pt")["join.title"]).wait_for()
    Inspector(page, read_checklist(server, "finished-stove"), language="pt").join(
        server.address, server.make_code()
    )
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    server.stop()
    show(page, "#/who")
    assert page.locator(".chip[aria-pressed=true]").inner_text() == "Português"
    page.get_by_role("button", name="Français").tap()
    page.get_by_role("heading", name=list_words("fr")["who.title"]).wait_for()
    context.close()

    page = open_phone(locale="en-GB").new_page()
    page.goto(f"{server.address}/phone/")
    page.get_by_role("button", name=list_words("fr")["today.next"]).wait_for()
    assert read_root(page) == ["fr", "ltr", "Contrôle des foyers"]
    open_rest(page)
    page.get_by_role("button", name="English").tap()
    page.get_by_role("button", name=word("today.next")).wait_for()
    assert read_root(page) == ["en", "ltr", "Stove inspection"]


def take_tour(
    server: YardServer, context, language: str, pictures: Path | None = None
) -> dict[str, list[str]]:
    """{screen: what is cut off there}, in one language on a phone of 320 pixels."""
    inspector = Inspector(context.new_page(), read_checklist(server, "finished-stove"))
    found = {}
    for name in tour(inspector, server):
        found[name] = inspector.page.evaluate(FIND_CUT)
        # A word of the long language may break; one that people speak may not.
        found[name] += (
            inspector.page.evaluate(FIND_BROKEN) if language not in pseudo.LANGUAGES else []
        )
        assert inspector.page.evaluate("document.documentElement.lang") == language, name
        if pictures:
            inspector.page.screenshot(
                path=pictures / f"{len(found):02}-{name.replace('/', '-').replace(' ', '-')}.png"
            )
    return found


@pytest.mark.parametrize("language", [*pseudo.LANGUAGES, "fr", "pt"])
def test_nothing_is_cut_off_at_320_pixels(pseudo_server, chromium, language):
    context = chromium.new_context(**SMALL, locale=language)
    found = take_tour(pseudo_server, context, language)
    direction = "rtl" if language == pseudo.MIRRORED else "ltr"
    assert (
        context.pages[0].evaluate(
            "[document.documentElement.dir,"
            " getComputedStyle(document.querySelector('h1')).direction]"
        )
        == [direction] * 2
    )
    context.close()
    assert len(found) > 30
    assert {name: cut for name, cut in found.items() if cut} == {}


@pytest.mark.parametrize(
    "style",
    [
        ".go { white-space: nowrap; overflow: hidden; inline-size: 40px; }",
        ".head h1 { margin-inline-start: -60px; }",
        "p { inline-size: 400px; }",
    ],
)
def test_what_is_cut_off_is_found(server, chromium, style):
    context = chromium.new_context(**SMALL)
    page = context.new_page()
    page.goto(f"{server.address}/phone/")
    page.locator(".go").wait_for()
    assert page.evaluate(FIND_CUT) == []
    # Through the style sheet's own interface: the page's policy takes no style from elsewhere.
    page.evaluate(
        "rule => document.styleSheets[0].insertRule(rule, document.styleSheets[0].cssRules.length)",
        style,
    )
    assert page.evaluate(FIND_CUT) != []
    assert page.evaluate(FIND_BROKEN) == []
    page.evaluate(
        "document.styleSheets[0].insertRule('p { inline-size: 30px !important; }',"
        " document.styleSheets[0].cssRules.length)"
    )
    assert "without" in page.evaluate(FIND_BROKEN)
    context.close()
