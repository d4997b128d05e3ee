"""The least that pages of this kind can take, each served by the same worker as the app:

- button: no module of the app; a script that shows one button and counts its taps;
- first screen: the app's modules of the first screen are loaded, nothing is asked of them, and
  the markup of the app's own first screen is put in;
- walk: as that, and every tap puts in the markup of the walk's next screen. The drawing stays.

The time above "button" is what loading, laying out and painting such a screen costs whatever the
app does; the time above the other two is the app's own.
"""

import json
import re
import shutil
from contextlib import ExitStack, closing
from dataclasses import dataclass
from pathlib import Path

from playwright.sync_api import BrowserContext, Page, Playwright

from qcapp.web.phone.app_files import load_shell
from tests.bench.slowed import SLOWED, WATCH_TAPS, slow_down, start_cold
from tests.conftest import open_profile
from tests.e2e.inspector import Inspector, wait_settled
from tests.e2e.server import YardServer, open_small_yard
from tests.phone_weight import list_modules

SCREEN = "document.querySelector('#screen')"
BUTTON = """const [button, count] = ["button", "p"].map((name) => document.createElement(name));
button.id = "ui-next";
button.textContent = "Next stove";
button.style.minHeight = "64px";
count.textContent = "0";
button.onclick = () => { count.textContent = Number(count.textContent) + 1; };
document.getElementById("screen").append(button, count);
"""
SHOW = """const root = document.getElementById("screen");
const make = (html) => {
  const box = document.createElement("div");
  box.innerHTML = html;
  return box.firstElementChild;
};
root.replaceChildren(make(SCREENS[0]));
"""
WALK = (
    SHOW
    + """const waiting = SCREENS.slice(1).map(make);
root.onclick = () => {
  const next = waiting.shift();
  if (!next) return;
  const shown = root.firstElementChild;
  const [kept, place] = [shown, next].map((screen) => screen.querySelector(":scope > .strip"));
  if (!kept || !place) return root.replaceChildren(next);
  shown.className = next.className;
  for (const child of [...shown.children]) if (child !== kept) child.remove();
  const all = [...next.children];
  const at = all.indexOf(place);
  kept.before(...all.slice(0, at));
  kept.after(...all.slice(at + 1));
};
"""
)


@dataclass(frozen=True)
class Screens:
    """Markup as the app showed it: of the first screen, and of a good stove's walk in turn."""

    first: str
    walk: list[str]


def record_screens(page: Page, inspector: Inspector) -> Screens:
    """Walks one good stove; the page stands at the first screen before and after."""
    first = page.evaluate(f"{SCREEN}.innerHTML")
    walk = []
    inspector.start_stove()
    for _ in range(200):
        wait_settled(page)
        walk.append(page.evaluate(f"{SCREEN}.innerHTML"))
        if page.locator("#ui-save").count():
            break
        inspector.answer({})
    inspector.save()
    return Screens(first, walk)


def make_floor(static: Path, folder: Path, script: str, *, has_modules: bool) -> Path:
    """A copy of the phone's files whose start is the script."""
    floor = shutil.copytree(static, folder / "static")
    phone = floor / "phone"
    imports = ""
    if has_modules:
        modules = sorted(list_modules(load_shell(static)))
        own = ("main.js", "starting.js", "worker_registration.js")
        imports = "".join(
            f'import "./{name.removeprefix("phone/js/")}";\n'
            for name in modules
            if name.startswith("phone/js/") and not name.endswith(own)
        )
    else:
        page = phone / "index.html"
        plain = re.sub(r" *<link rel=\"modulepreload\".*\n", "", page.read_text("utf-8"))
        page.write_text(plain, encoding="utf-8")
    (phone / "js" / "starting.js").write_text("", encoding="utf-8")
    (phone / "js" / "main.js").write_text(imports + script, encoding="utf-8")
    return floor


class Floors:
    """The three pages, each with a server of its own that has been stopped, and a browser profile."""

    def __init__(self, driver: Playwright, folder: Path, static: Path, screens: Screens) -> None:
        self.scripts = {
            "button": BUTTON,
            "first screen": f"const SCREENS = {json.dumps([screens.first])};\n{SHOW}",
            "walk": f"const SCREENS = {json.dumps(screens.walk)};\n{WALK}",
        }
        self.taps = {"button": 35, "walk": len(screens.walk) - 1}
        self.open: dict[str, tuple[BrowserContext, str]] = {}
        self.stack = ExitStack()
        for name, script in self.scripts.items():
            own = folder / name.replace(" ", "_")
            own.mkdir(parents=True)
            floor = make_floor(static, own, script, has_modules=name != "button")
            self.open[name] = self._join(driver, own, open_small_yard(own, static_dir=floor))

    def _join(
        self, driver: Playwright, own: Path, server: YardServer
    ) -> tuple[BrowserContext, str]:
        with server:
            context = self.stack.enter_context(closing(open_profile(driver, own / "profile")))
            page = context.pages[0]
            page.goto(f"{server.address}/phone/")
            page.evaluate("navigator.serviceWorker.ready.then(() => true)")
        return context, server.address

    def start(self, name: str) -> float:
        """Milliseconds of one cold start without signal."""
        return start_cold(*self.open[name], SLOWED)

    def list_taps(self, name: str) -> list[float]:
        """Sorted milliseconds from each tap to the next paint."""
        context, address = self.open[name]
        page = context.new_page()
        slow_down(context, page, SLOWED)
        page.goto(f"{address}/phone/")
        page.evaluate(WATCH_TAPS)
        for _ in range(self.taps[name]):
            page.locator("#screen > *").first.tap()
            page.wait_for_timeout(400)
        page.wait_for_timeout(1000)
        return sorted(page.evaluate("window.tapTimes"))

    def close(self) -> None:
        self.stack.close()
