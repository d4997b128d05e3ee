"""From the shutter to the figures of a grate at a sixth of this machine's speed: python3 -m
tests.bench.holes

The browser slows its page down and not the page's worker, so the measuring is timed once more in
the page itself, which is slowed.
"""

import base64
import json
import tempfile
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from tests.bench.slowed import SLOWED, slow_down
from tests.conftest import CHROMIUM_FLAGS, PHONE, get_chromium_path
from tests.e2e.holes_camera import as_jpeg, draw_grate, put_camera_in_page
from tests.e2e.inspector import Inspector, show
from tests.e2e.server import open_small_yard, read_checklist

# Milliseconds from the tap until the sign of progress, and the figures, are painted.
NOTE_FRAMES = """() => {
  window.noted = {};
  const began = performance.now();
  const note = (name, place) => {
    if (window.noted[name] !== undefined || !document.querySelector(place)) return;
    window.noted[name] = null;
    requestAnimationFrame(() => setTimeout(() => (window.noted[name] = performance.now() - began)));
  };
  new MutationObserver(() => {
    note("sign", ".holes progress");
    note("figures", ".holes .strong");
  }).observe(document, { childList: true, subtree: true });
  document.querySelector("#ui-take").click();
}"""
MEASURE = """async (jpeg) => {
  const main = document.querySelector("script[src$='main.js']").src;
  const { measureGrate } = await import(main.replace("main.js", "holes/grate.js"));
  const bytes = Uint8Array.from(atob(jpeg), (sign) => sign.charCodeAt(0));
  const bitmap = await createImageBitmap(new Blob([bytes], { type: "image/jpeg" }));
  const { width, height } = bitmap;
  const canvas = Object.assign(document.createElement("canvas"), { width, height });
  const paint = canvas.getContext("2d");
  paint.drawImage(bitmap, 0, 0);
  const { data } = paint.getImageData(0, 0, width, height);
  const pixels = new Uint8Array(width * height).map((_, at) => data[4 * at]);
  const began = performance.now();
  const { holes } = measureGrate({ pixels, width, height }, { ruler: 180, step: 0 });
  return holes && performance.now() - began;
}"""


def measure_holes() -> dict[str, float]:
    """Milliseconds by name."""
    with (
        tempfile.TemporaryDirectory() as folder,
        sync_playwright() as driver,
        open_small_yard(Path(folder)) as server,
    ):
        browser = driver.chromium.launch(
            executable_path=get_chromium_path(), args=list(CHROMIUM_FLAGS)
        )
        context = browser.new_context(**PHONE)
        page = context.new_page()
        inspector = Inspector(page, read_checklist(server, "finished-stove"))
        inspector.join(server.address, server.make_code())
        grey = draw_grate()[1]
        put_camera_in_page(page, grey)
        slow_down(context, page, SLOWED)
        noted = _take(page)
        alone = page.evaluate(MEASURE, base64.b64encode(as_jpeg(grey)).decode())
        browser.close()
    return {
        f"from the shutter to the sign of progress, x{SLOWED} ms": noted["sign"],
        f"from the shutter to the figures, x{SLOWED} but the worker, ms": noted["figures"],
        f"measuring alone, x{SLOWED} ms": alone,
        f"from the shutter to the figures, all x{SLOWED}, at most ms": noted["figures"] + alone,
    }


def _take(page: Page) -> dict[str, float]:
    show(page, "#/holes")
    page.locator("#ui-ruler").fill("180")
    page.locator("#ui-keep").tap()
    page.locator("#ui-take:enabled").wait_for()
    page.wait_for_timeout(1000)
    page.evaluate(NOTE_FRAMES)
    page.wait_for_function("() => window.noted.figures > 0")
    return page.evaluate("window.noted")


if __name__ == "__main__":
    print(json.dumps(measure_holes(), indent=2))
