"""Pictures for the phone's camera that measures holes: drawn ones as a file of video, and a camera
of the page itself for browsers that were started without one.
"""

import base64
import io
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import numpy as np
from PIL import Image
from playwright.sync_api import BrowserContext, Page

from tests.conftest import CHROMIUM_FLAGS, get_chromium_path
from tests.e2e.inspector import show
from tests.holes.render import Scene, make_scene

# Diameter of the grate, of its holes, their margin: mm.
GRATE = (150.0, 16.0, 15.0)
# A camera with a light and a focus; `window.asked` is what it was told.
PAGE_CAMERA = """(picture) => {
  const asked = (window.asked = []);
  navigator.mediaDevices.getUserMedia = async () => {
    const bytes = Uint8Array.from(atob(picture), (sign) => sign.charCodeAt(0));
    const image = await createImageBitmap(new Blob([bytes], { type: "image/jpeg" }));
    const { width, height } = image;
    const canvas = Object.assign(document.createElement("canvas"), { width, height });
    const draw = () => canvas.getContext("2d").drawImage(image, 0, 0);
    const stream = canvas.captureStream(10);
    const [track] = stream.getVideoTracks();
    const timer = setInterval(() => (track.readyState === "live" ? draw() : clearInterval(timer)), 100);
    draw();
    track.getCapabilities = () => ({ torch: true, focusMode: ["manual", "continuous"] });
    track.applyConstraints = async ({ advanced }) => void asked.push(...advanced);
    return stream;
  };
}"""


@cache
def draw_grate() -> tuple[Scene, np.ndarray]:
    """One whose frame is found, with its grey picture."""
    scene = make_scene(5001, GRATE)
    return scene, scene.render()


def draw_bench() -> np.ndarray:
    """A bench with nothing on it."""
    return np.random.default_rng(3).integers(90, 150, (720, 960), np.uint8)


def write_video(path: Path, grey: np.ndarray) -> None:
    """One frame of YUV4MPEG2, which Chromium's fake camera repeats. The limited range of ITU-R
    BT.601.
    """
    height, width = grey.shape
    luma = np.round(16 + grey.astype(float) * 219 / 255).astype(np.uint8)
    chroma = bytes([128]) * (width // 2 * (height // 2) * 2)
    head = f"YUV4MPEG2 W{width} H{height} F10:1 Ip A1:1\n".encode()
    path.write_bytes(head + b"FRAME\n" + luma.tobytes() + chroma)


def launch(playwright, video: Path):
    """A browser whose camera shows the file."""
    flags = (
        "--use-fake-device-for-media-stream",
        "--use-fake-ui-for-media-stream",
        f"--use-file-for-fake-video-capture={video}",
    )
    return playwright.chromium.launch(
        executable_path=get_chromium_path(), args=[*CHROMIUM_FLAGS, *flags]
    )


def as_jpeg(grey: np.ndarray) -> bytes:
    kept = io.BytesIO()
    Image.fromarray(grey).save(kept, "JPEG", quality=90)
    return kept.getvalue()


def as_file(grey: np.ndarray) -> dict:
    return {"name": "grate.jpg", "mimeType": "image/jpeg", "buffer": as_jpeg(grey)}


def put_camera_in_page(page: Page, grey: np.ndarray) -> None:
    page.evaluate(PAGE_CAMERA, base64.b64encode(as_jpeg(grey)).decode())


def keep_live_tracks(context: BrowserContext) -> None:
    """From now on each page lists its camera's tracks; `window.held` holds the answer back."""
    context.add_init_script("""{
      window.tracks = [];
      const { getUserMedia } = MediaDevices.prototype;
      MediaDevices.prototype.getUserMedia = async function (wish) {
        await window.held;
        const stream = await getUserMedia.call(this, wish);
        window.tracks.push(...stream.getTracks());
        return stream;
      };
    }""")


def visit_holes(page: Page, route: str) -> Iterator[str]:
    """Every state of the screen: #/holes of the settings, or of a step of the open inspection."""
    _scene, grey = draw_grate()
    show(page, route)
    page.locator("#ui-keep").tap()
    page.locator(".holes [role=alert]:not(:empty)").wait_for()
    yield "holes: ruler"
    page.locator("#ui-how").tap()
    page.locator(".holes figure svg").last.wait_for()
    yield "holes: how"
    page.locator("#ui-on").tap()
    page.locator("#ui-ruler").fill("180")
    put_camera_in_page(page, grey)
    page.locator("#ui-keep").tap()
    page.locator("#ui-take:enabled").wait_for()
    yield "holes: camera"
    page.locator("#ui-take").tap()
    page.locator(".holes .strong").wait_for()
    yield "holes: figures"
    put_camera_in_page(page, draw_bench())
    page.locator("#ui-again").tap()
    page.locator("#ui-take:enabled").tap()
    page.locator(".holes [role=alert]").wait_for()
    yield "holes: refused"
    page.evaluate(
        """() => { navigator.mediaDevices.getUserMedia =
          async () => { throw new DOMException('', 'NotAllowedError'); }; }"""
    )
    page.locator("#ui-again").tap()
    page.locator("label[for=ui-holes]").wait_for()
    yield "holes: file"
