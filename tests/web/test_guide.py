"""The guide as the app serves it: open to everybody, whole, nothing in it that could run."""

import re
from pathlib import Path

import pytest

from qcapp import __version__
from qcapp.errors import StartError
from qcapp.programme_app import create_programme, load_programme
from qcapp.settings import Settings
from qcapp.web.guide.files import load_user_guide
from qcapp.web.guide.markdown import find_address, make_anchor, render_markdown
from tests.builders import NOW, ROOT, open_client, open_yard

FOLDER = ROOT / "static" / "guide"
FILES = {path.stem for path in FOLDER.glob("*.md")}
NAMES = sorted(name for name in FILES if "." not in name and name != "index")
TRANSLATIONS = sorted(name for name in FILES if "." in name)


@pytest.fixture(scope="module")
def stranger():
    return open_client(open_yard().client.app)


def render(text: str, **pictures: bytes) -> str:
    return render_markdown(f"# Title\n\n{text}", pictures).html


def test_guide_is_open_to_a_stranger_and_leads_to_every_page(stranger):
    index = stranger.get("/guide")
    assert index.status_code == 200
    assert set(re.findall(r'href="/guide/([\w-]+)(?:#[\w-]*)?"', index.text)) == set(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_every_link_and_picture_of_a_page_leads_somewhere(stranger, name):
    text = stranger.get(f"/guide/{name}").text
    article = text[text.index("<article") : text.index("</article>")]
    links = re.findall(r'(?:href|src)="([^"]+)"', article)
    assert links
    for link in links:
        address, _, anchor = link.partition("#")
        if address.startswith("https://"):
            continue
        target = stranger.get(address or f"/guide/{name}")
        assert target.status_code == 200, link
        assert not anchor or f'id="{anchor}"' in target.text, link


def test_pictures_are_served_as_images_with_their_size(stranger):
    picture = stranger.get("/guide/pictures/today.png")
    assert picture.headers["content-type"] == "image/png"
    assert picture.headers["cache-control"] == "public, max-age=3600"
    assert picture.content == (FOLDER / "pictures" / "today.png").read_bytes()
    assert 'src="/guide/pictures/today.png"' in stranger.get("/guide/inspector").text
    assert 'width="720" height="1280"' in stranger.get("/guide/inspector").text


@pytest.mark.parametrize(
    "address",
    ["/guide/nothing", "/guide/index", "/guide/pictures/none.png", "/guide/..%2f..%2fREADME"],
)
def test_what_the_guide_does_not_have_is_not_found(stranger, address):
    assert stranger.get(address).status_code == 404


def test_every_page_leads_to_the_guide_a_buyers_too(stranger):
    for address in ("/", "/sign-in", "/nowhere", "/s/unknown", "/guide/buyer"):
        assert 'href="/guide"' in stranger.get(address).text, address


def test_page_says_in_the_readers_language_that_the_guide_is_english(stranger):
    french = stranger.get("/guide/trainer", headers={"Accept-Language": "fr"}).text
    assert '<html lang="fr"' in french and '<article class="prose" lang="en" dir="ltr">' in french
    assert "Le guide est en anglais" in french and "Sur cette page" in french
    assert "written in English" not in stranger.get("/guide/trainer").text


@pytest.mark.parametrize("translation", TRANSLATIONS)
def test_page_is_served_in_the_readers_language_with_links_to_the_others(stranger, translation):
    name, _, language = translation.partition(".")
    title = (FOLDER / f"{translation}.md").read_text(encoding="utf-8").splitlines()[0][2:]
    text = stranger.get(f"/guide/{name}", headers={"Accept-Language": language}).text
    english = stranger.get(f"/guide/{name}").text
    assert f'<h1 lang="{language}" dir="ltr">' in text and title.replace("'", "&#39;") in text
    assert "is written in English" not in text and "Le guide est en anglais" not in text
    anchors = re.findall(r'<h2 id="([^"]+)"', text)
    assert anchors == re.findall(r'<h2 id="([^"]+)"', english) and len(anchors) > 5
    for other in {"en", "fr", "pt"} - {language}:
        assert f'href="?language={other}"' in text.partition("<article")[0]
    assert f'href="?language={language}"' in english.partition("<article")[0]
    assert stranger.get(f"/guide/{translation}").status_code == 404


@pytest.mark.parametrize("translation", TRANSLATIONS)
def test_every_link_and_picture_of_a_translation_leads_somewhere(stranger, translation):
    name, _, language = translation.partition(".")
    text = stranger.get(f"/guide/{name}", headers={"Accept-Language": language}).text
    article = text[text.index("<article") : text.index("</article>")]
    for link in re.findall(r'(?:href|src)="([^"]+)"', article):
        address, _, anchor = link.partition("#")
        target = stranger.get(address)
        assert target.status_code == 200 and (not anchor or f'id="{anchor}"' in target.text), link


def test_a_translation_with_other_headings_is_an_error():
    with pytest.raises(ValueError, match=r"shorter|longer"):
        render_markdown("# T\n\n## One\n", {}, ["one", "two"])


def test_page_says_which_version_runs(stranger):
    assert f"version {__version__}" in stranger.get("/guide/changes").text


def test_host_of_a_programme_has_the_guide_too(tmp_path):
    """The example of a programme in the guide is one that can be started."""
    page = (FOLDER / "several-yards.md").read_text(encoding="utf-8")
    file = tmp_path / "programme.yaml"
    file.write_text(re.search(r"```yaml\n(.*?)```", page, re.DOTALL)[1], encoding="utf-8")
    programme = load_programme(file)
    served = create_programme(programme, Settings(), tmp_path, clock=lambda: NOW)
    for place in (programme, *programme.yards):
        client = open_client(served, address=place.address)
        assert client.get("/guide/several-yards").status_code == 200, place.name


def test_html_in_a_page_is_shown_and_not_run_and_no_link_runs_a_script():
    html = render("<script>alert(1)</script>\n\nand <b onclick='x'>that</b>")
    assert "<script" not in html and "&lt;script&gt;" in html and "<b " not in html
    assert "<a" not in render("[x](javascript:alert(1)) and [y](data:text/html,x)")
    assert render("```\n<i>\n```") == '<pre tabindex="0"><code>&lt;i&gt;\n</code></pre>\n'


def test_headings_have_anchors_and_tables_scroll_by_themselves():
    html = render("## Two & *more*\n\n| a |\n|---|\n| b |\n\n| c |\n|---|\n| d |\n")
    assert '<h2 id="two--more">' in html
    assert re.findall(r'aria-label="([^"]+)"', html) == [
        "Two &amp; *more*",
        "Two &amp; *more*, table 2",
    ]
    assert html.count('<div class="scroll" tabindex="0" role="region"') == html.count("</div>") == 2
    assert html.count('<th scope="col">') == 2


def test_links_to_files_become_addresses_of_the_app():
    assert find_address("buyer.md#2-read") == "/guide/buyer#2-read"
    assert find_address("index.md") == "/guide"
    assert find_address("pictures/x.png") == "/guide/pictures/x.png"
    assert find_address("#here") == "#here"
    assert find_address("https://example.org/a.html") == "https://example.org/a.html"
    assert make_anchor("1. Too close: what's that?") == "1-too-close-whats-that"


def test_a_page_without_a_title_or_a_picture_that_is_missing_is_an_error():
    with pytest.raises(ValueError, match="begins with its title"):
        render_markdown("text\n", {})
    with pytest.raises(KeyError):
        render("![x](pictures/none.png)")


def test_a_folder_without_the_guide_is_told_at_the_start(tmp_path: Path):
    with pytest.raises(StartError, match="guide"):
        load_user_guide(tmp_path)
