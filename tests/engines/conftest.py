"""Browsers of other engines: started with a profile that outlives them."""

import subprocess
from collections.abc import Iterator

import pytest
from PIL import ExifTags, Image

from tests.e2e.server import YardServer, open_small_yard
from tests.engines.drivers import ENGINES
from tests.engines.page import Page


@pytest.fixture(scope="session")
def display() -> Iterator[str]:
    """Name of a display that nobody sees."""
    command = ["Xvfb", "-displayfd", "1", "-screen", "0", "800x900x24", "-nolisten", "tcp"]
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
    ) as server:
        yield f":{server.stdout.readline().strip()}"
        server.terminate()


@pytest.fixture
def server(tmp_path) -> Iterator[YardServer]:
    with open_small_yard(tmp_path) as server:
        yield server


@pytest.fixture
def photo(tmp_path):
    """A picture as a phone held upright stores it: lying, its upper end (red) to the left, with the
    camera's maker and the turn to be made in its EXIF.
    """
    path = tmp_path / "shot.jpg"
    image = Image.new("RGB", (1600, 1200), "blue")
    image.paste("red", (0, 0, 800, 1200))
    exif = Image.Exif()
    exif[ExifTags.Base.Make] = "Camera maker"
    exif[ExifTags.Base.Orientation] = 6
    image.save(path, exif=exif)
    return path


@pytest.fixture(params=list(ENGINES))
def open_browser(request, display, tmp_path) -> Iterator:
    """Call it for a page in a new process of the engine, with the same data each time; the process
    before it must have been killed."""
    drivers = []

    def open_page() -> Page:
        drivers.append(ENGINES[request.param](tmp_path / "profile", display))
        return Page(drivers[-1])

    yield open_page
    for driver in drivers:
        if driver.process.popen.poll() is None:
            driver.kill()
