"""A page of any engine with the few methods of Playwright's page that `Inspector` uses, so that the
same thumb walks in each of them. Clicks are the driver's own: in view, on what lies on top.
"""

import time
from pathlib import Path

from tests.engines.drivers import DriverError, wait_until

WAIT_S = 20
ELEMENT = "element-6066-11e4-a52e-4f735466cecf"
# The page drew anew or still moves: the next look finds what is there then.
NOT_YET = {
    "element click intercepted",
    "element not interactable",
    "no such element",
    "stale element reference",
}
CALL = """
const [source, arg, done] = arguments;
Promise.resolve().then(() => SOURCE).then((call) => call(arg)).then(
  (value) => done({ value: value === undefined ? null : value }),
  (error) => done({ error: String(error) }),
);
"""
FIND = """([css, text]) =>
  [...document.querySelectorAll(css)].filter((found) => found.textContent.includes(text))"""
SHOWN = "const isShown = (found) => found.getClientRects().length > 0;"


class Page:
    """One page; `driver` is one of drivers.ENGINES."""

    def __init__(self, driver) -> None:
        self.driver = driver

    @property
    def url(self) -> str:
        return self.evaluate("() => location.href")

    def goto(self, url: str) -> None:
        self.driver.go(url)

    def evaluate(self, function: str, arg=None):
        """What the function gives for `arg`; a promise is awaited."""
        answer = self.driver.execute(CALL.replace("SOURCE", f"({function})"), "", arg)
        if "error" in answer:
            raise AssertionError(f"{self.driver.name}: {answer['error']}")
        return answer["value"]

    def wait_for_function(self, function: str, arg=None):
        return wait_until(lambda: self.evaluate(function, arg), function, WAIT_S)

    def locator(self, css: str) -> "Locator":
        return Locator(self, css)

    def get_by_role(self, role: str, *, name: str) -> "Locator":
        return Locator(self, role, name)


class Locator:
    """What a selector finds at the time of asking; with `text`, those that hold it."""

    def __init__(self, page: Page, css: str, text: str = "") -> None:
        self.page, self.what = page, [css, text]

    @property
    def first(self) -> "Locator":
        return self

    def ask(self, function: str):
        """What the function gives for all elements found."""
        return self.page.evaluate(
            f"(what) => {{ {SHOWN} return ({function})(({FIND})(what)); }}", self.what
        )

    def count(self) -> int:
        return self.ask("(found) => found.length")

    def evaluate_all(self, function: str):
        return self.ask(function)

    def get_attribute(self, name: str) -> str | None:
        return self.ask(f"([first]) => first.getAttribute('{name}')")

    def input_value(self) -> str:
        return self.ask("([first]) => first.value")

    def inner_html(self) -> str:
        return self.ask("([first]) => first.innerHTML")

    def inner_text(self) -> str:
        return self.ask("([first]) => first.innerText")

    def wait_for(self, state: str = "visible") -> None:
        wish = {
            "visible": "(found) => found.some(isShown)",
            "detached": "(found) => found.length === 0",
        }[state]
        wait_until(lambda: self.ask(wish), f"{self.what} {state}", WAIT_S)

    def _find_usable(self, wish: str) -> str:
        asked = f"(found) => found.find((one) => {wish}) ?? null"
        return wait_until(lambda: self.ask(asked), f"{self.what} to act on", WAIT_S)[ELEMENT]

    def tap(self) -> None:
        end = time.monotonic() + WAIT_S
        while True:
            try:
                self.page.driver.click(self._find_usable("isShown(one) && !one.disabled"))
            except DriverError as error:
                if error.code not in NOT_YET or time.monotonic() > end:
                    raise
                time.sleep(0.05)
            else:
                return

    def set_input_files(self, path: Path) -> None:
        self.page.driver.send_keys(self._find_usable("one.type === 'file'"), str(path))
