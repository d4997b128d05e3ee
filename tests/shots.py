"""Sheets of shots of every screen of the phone, in every size, theme and language:
python3 tests/shots.py FOLDER (from tests/.venv); with --only WORD those screens alone.

One picture a screen: a row for each language and theme, a column for each size. They are for eyes;
what can be measured is in tests/e2e/screens/test_sizes.py.
"""

import argparse
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from io import BytesIO

from PIL import Image, ImageDraw
from playwright.sync_api import Browser, Page, sync_playwright

from tests.conftest import CHROMIUM_FLAGS, PHONE, get_chromium_path
from tests.e2e.inspector import Inspector
from tests.e2e.screens.states import visit
from tests.e2e.screens.tour import tour
from tests.e2e.server import open_small_yard, read_checklist

# Width, height, text in per cent.
SIZES = (
    (320, 568, 100),
    (360, 560, 100),
    (360, 640, 100),
    (640, 360, 100),
    (360, 640, 130),
    (360, 640, 200),
)
THEMES = ("light", "dark")
LANGUAGES = ("en", "fr", "pt")
GAP, HEAD = 12, 22
ENLARGE = "size => document.documentElement.style.setProperty('font-size', size, 'important')"
Shot = tuple[str, str, str, tuple[int, int, int], Image.Image]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--only", default="", help="screens whose name has this in it")
    parser.add_argument("--languages", nargs="*", default=LANGUAGES)
    parser.add_argument("--themes", nargs="*", default=THEMES)
    wish = parser.parse_args()
    wish.folder.mkdir(parents=True, exist_ok=True)
    shots: dict[str, list[Shot]] = {}
    with sync_playwright() as driver:
        browser = driver.chromium.launch(
            executable_path=get_chromium_path(), args=list(CHROMIUM_FLAGS)
        )
        for language in wish.languages:
            for name, page in show_screens(browser, language):
                if wish.only in name:
                    shots.setdefault(name, []).extend(take(page, name, language, wish.themes))
        browser.close()
    for place, (name, taken) in enumerate(shots.items()):
        path = wish.folder / f"{place:02}-{name.replace(' ', '-').replace('/', '-')}.png"
        join_shots(taken).save(path, optimize=True)
        print(f"{path}: {len(taken)} shots")


def show_screens(browser: Browser, language: str) -> Iterator[tuple[str, Page]]:
    """Every screen in turn: its name, and the page that shows it."""
    with tempfile.TemporaryDirectory() as folder:
        photo = Path(folder) / "shot.jpg"
        Image.effect_noise((1600, 1200), 60).convert("RGB").save(photo)
        for walk in ("tour", "visit"):
            home = Path(folder) / walk
            home.mkdir()
            with open_small_yard(home) as server:
                context = browser.new_context(**PHONE, locale=language)
                compiled = read_checklist(server, "finished-stove")
                inspector = Inspector(context.new_page(), compiled, language=language)
                if walk == "visit":
                    inspector.join(server.address, server.make_code())
                states = tour(inspector, server) if walk == "tour" else visit(inspector, photo)
                for name in states:
                    yield name, inspector.page
                context.close()


def take(page: Page, name: str, language: str, themes: list[str]) -> Iterator[Shot]:
    for theme in themes:
        page.emulate_media(color_scheme=theme)
        for width, height, text in SIZES:
            page.set_viewport_size({"width": width, "height": height})
            page.evaluate(ENLARGE, f"calc(1.125 * {text}%)")
            page.wait_for_timeout(120)
            with Image.open(BytesIO(page.screenshot(scale="css"))) as picture:
                yield name, language, theme, (width, height, text), picture.convert("RGB")
    page.set_viewport_size(PHONE["viewport"])
    page.evaluate("document.documentElement.style.removeProperty('font-size')")
    page.emulate_media(color_scheme=None)


def join_shots(shots: list[Shot]) -> Image.Image:
    """Shots of one screen as one picture: a row a language and theme, a column a size."""
    rows = list(dict.fromkeys((language, theme) for _, language, theme, _, _ in shots))
    row_height = max(height for _, height, _ in SIZES) + GAP + HEAD
    width = sum(width + GAP for width, _, _ in SIZES) + GAP
    sheet = Image.new("RGB", (width, row_height * len(rows) + GAP), "#888888")
    pen = ImageDraw.Draw(sheet)
    for _, language, theme, size, picture in shots:
        place = SIZES.index(size)
        left = GAP + sum(wide + GAP for wide, _, _ in SIZES[:place])
        top = rows.index((language, theme)) * row_height + HEAD
        pen.text((left, top - 16), "{} {} {}x{} {} %".format(language, theme, *size), fill="white")
        sheet.paste(picture, (left, top))
    return sheet


if __name__ == "__main__":
    main()
