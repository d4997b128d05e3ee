"""Pictures of grates that never were, with the printed frame round them and their true figures.

A camera of its own (pinhole, two Brown terms: not the phone's model of a lens), a grate of clay
with thick holes, oval rim, chips, blocked holes, ash, soot, a shadow's edge, blur, noise and JPEG.
"""

import io
from dataclasses import dataclass, field

import numpy as np
from PIL import Image
from scipy import ndimage

from qcapp.documents.photo_frame import (
    MARK_SIDE,
    OPENING_RADII,
    PAPERS,
    RULER_LENGTH,
    list_marks,
    place_ruler,
)

WIDTH, HEIGHT = 960, 720
ROWS = (3, 4, 5, 4, 3)
THICKNESS = 25.0


@dataclass
class Grate:
    """Millimetres. holes: (n, 5) x, y, mean radius, size and direction of the oval; blocked: which
    are full of clay; rim: mean radius, then size and direction of second and third order; chips:
    (m, 3) angle, half width (radians), depth.
    """

    holes: np.ndarray
    blocked: np.ndarray
    rim: np.ndarray
    chips: np.ndarray
    turn: float = 0.0
    shift: np.ndarray = field(default_factory=lambda: np.zeros(2))

    def rim_radius(self, angle: np.ndarray) -> np.ndarray:
        radius, a2, p2, a3, p3 = self.rim
        return radius + a2 * np.cos(2 * (angle - p2)) + a3 * np.cos(3 * (angle - p3))

    def chip_depth(self, angle: np.ndarray) -> np.ndarray:
        depth = np.zeros_like(angle)
        for middle, half, most in self.chips:
            away = np.abs((angle - middle + np.pi) % (2 * np.pi) - np.pi) / half
            depth = np.maximum(depth, most * np.clip(1 - away**2, 0, 1))
        return depth

    def open_holes(self) -> np.ndarray:
        return self.holes[~self.blocked]

    def curves(self, points: int = 240) -> np.ndarray:
        """Outlines of the open holes (n, points, 2)."""
        angle = np.linspace(0, 2 * np.pi, points, endpoint=False)
        holes = self.open_holes()
        radius = holes[:, 2:3] + holes[:, 3:4] * np.cos(2 * (angle - holes[:, 4:5]))
        ring = np.stack([np.cos(angle), np.sin(angle)], axis=-1)
        return holes[:, None, :2] + radius[..., None] * ring

    def smallest_margin(self) -> float:
        """Of every hole's outline to the sound rim."""
        angle = np.linspace(0, 2 * np.pi, 720, endpoint=False)
        rim = self.rim_radius(angle)[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
        outer = self.curves()[np.hypot(*self.open_holes()[:, :2].T) > 0.4 * self.rim[0]]
        away = outer.reshape(-1, 1, 2) - rim[None]
        return float(np.sqrt((away**2).sum(-1).min()))

    def smallest_web(self) -> float:
        curves, holes = self.curves(), self.open_holes()
        best = np.inf
        for one in range(len(holes)):
            for other in range(one):
                if np.hypot(*(holes[one, :2] - holes[other, :2])) < 1.3 * self.pitch():
                    away = curves[one][:, None] - curves[other][None]
                    best = min(best, float(np.sqrt((away**2).sum(-1).min())))
        return best

    def pitch(self) -> float:
        away = np.hypot(*(self.holes[:, None, :2] - self.holes[None, :, :2]).transpose(2, 0, 1))
        return float(np.median(np.sort(away, axis=1)[:, 1]))


def make_grate(rng: np.random.Generator, *, diameter: float, hole: float, margin: float) -> Grate:
    """A grate of nineteen holes in rows as the drawing says, made by hand."""
    pitch = (diameter / 2 - margin - hole / 2) / 2
    places = [
        ((column - (count - 1) / 2) * pitch, (row - 2) * pitch * np.sqrt(3) / 2)
        for row, count in enumerate(ROWS)
        for column in range(count)
    ]
    n = len(places)
    holes = np.column_stack(
        [
            np.array(places) + rng.normal(0, 0.5, (n, 2)),
            hole / 2 + rng.normal(0, 0.2, n),
            rng.uniform(0, 0.15, n),
            rng.uniform(0, np.pi, n),
        ]
    )
    blocked = np.zeros(n, bool)
    if rng.random() < 1 / 3:
        blocked[rng.choice(n, rng.integers(1, 3), replace=False)] = True
    rim = np.array(
        [
            diameter / 2 + rng.normal(0, 0.4),
            rng.uniform(0, 0.5),
            rng.uniform(0, np.pi),
            rng.uniform(0, 0.15),
            rng.uniform(0, np.pi),
        ]
    )
    chips = [
        (rng.uniform(-np.pi, np.pi), rng.uniform(2, 7) / (diameter / 2), rng.uniform(1, 3))
        for _ in range(rng.integers(0, 5))
    ]
    return Grate(
        holes=holes,
        blocked=blocked,
        rim=rim,
        chips=np.array(chips).reshape(-1, 3),
        turn=rng.uniform(-0.3, 0.3),
        shift=rng.uniform(-1.5, 1.5, 2),
    )


@dataclass
class Camera:
    """focal: pixels; radial: two Brown terms in units of the focal length; pose: turning matrix
    and place of the camera, mm over the frame.
    """

    focal: float
    radial: tuple[float, float]
    turning: np.ndarray
    place: np.ndarray

    def rays(self) -> tuple[np.ndarray, np.ndarray]:
        """Where each pixel's ray meets the plane, (HEIGHT, WIDTH, 2) mm, and how far it moves
        sideways for each millimetre down.
        """
        x, y = np.meshgrid(
            (np.arange(WIDTH, dtype=np.float32) - (WIDTH - 1) / 2) / self.focal,
            (np.arange(HEIGHT, dtype=np.float32) - (HEIGHT - 1) / 2) / self.focal,
        )
        right, down = x, y
        for _ in range(6):
            square = right**2 + down**2
            factor = 1 + self.radial[0] * square + self.radial[1] * square**2
            right, down = x / factor, y / factor
        t = self.turning.astype(np.float32)
        direction = [t[0, i] * right + t[1, i] * down + t[2, i] for i in range(3)]
        slope = np.stack([direction[0] / direction[2], direction[1] / direction[2]], axis=-1)
        return (self.place[:2] - self.place[2] * slope).astype(np.float32), -slope


def make_camera(rng: np.random.Generator, most_tilt: float = 32.0) -> Camera:
    """Looking at about the middle of the frame from 300 to 420 mm, as far as all of it is seen."""
    tilt, direction = np.radians(rng.uniform(0, most_tilt)), rng.uniform(0, 2 * np.pi)
    focal = rng.uniform(0.58, 0.66) * np.hypot(WIDTH, HEIGHT)
    distance = rng.uniform(1.0, 1.25) * (290 + 2.5 * np.degrees(tilt)) * focal / 744
    axis = np.array(
        [np.sin(tilt) * np.cos(direction), np.sin(tilt) * np.sin(direction), -np.cos(tilt)]
    )
    place = rng.uniform(-6, 6, 3) * [1, 1, 0] - axis * distance
    roll = rng.uniform(-0.12, 0.12) + np.pi / 2
    across = np.array([np.cos(roll), np.sin(roll), 0])
    across -= axis * (axis @ across)
    across /= np.linalg.norm(across)
    # The sheet counts down its page and up to the camera: a left-handed system.
    below = np.cross(across, axis)
    radial = (rng.uniform(-0.08, 0.04), rng.uniform(-0.02, 0.02))
    return Camera(focal, radial, np.stack([across, below, axis]), place)


def smooth_noise(rng: np.random.Generator, cell: float, shape: tuple[int, ...]) -> np.ndarray:
    """Mottles of about one cell (pixels), -1 to 1, of a picture's shape."""
    height, width = shape
    coarse = rng.uniform(0, 255, (int(height / cell) + 2, int(width / cell) + 2)).astype(np.uint8)
    large = Image.fromarray(coarse).resize((width, height), Image.Resampling.BICUBIC)
    return np.asarray(large, np.float32) / 127.5 - 1


def soft(distance: np.ndarray, width: np.ndarray | float) -> np.ndarray:
    """1 inside (negative distance), 0 outside, sloping over a pixel."""
    return np.clip(0.5 - distance / width, 0, 1)


@dataclass
class Scene:
    """A grate under a camera. paper: the frame's; light: what a picture of it undergoes."""

    grate: Grate
    camera: Camera
    paper: str
    opening: float
    rng: np.random.Generator

    def render(self) -> np.ndarray:
        """Grey (HEIGHT, WIDTH), uint8."""
        places, slope = self.camera.rays()
        self.grain = float(
            np.hypot(*(places[HEIGHT // 2, WIDTH // 2 + 1] - places[HEIGHT // 2, WIDTH // 2]))
        )
        picture = self.light(self.paint(places, slope))
        return expose(picture, self.rng)

    def paint(self, places: np.ndarray, slope: np.ndarray) -> np.ndarray:
        """Albedo seen by each pixel, 0 to 1."""
        rng = self.rng
        x, y = places[..., 0], places[..., 1]
        bench = 0.35 + 0.12 * smooth_noise(rng, 24, x.shape) + 0.05 * smooth_noise(rng, 6, x.shape)
        for knot in rng.uniform(-170, 170, (6, 2)):
            bench[(x - knot[0]) ** 2 + (y - knot[1]) ** 2 < rng.uniform(3, 9) ** 2] = 0.12
        picture = self.paint_frame(x, y, bench)
        # In the opening is more than the frame to paint.
        rows, columns = np.nonzero(x * x + y * y < (self.opening + 2) ** 2)
        box = (slice(rows.min(), rows.max() + 1), slice(columns.min(), columns.max() + 1))
        x, y, slope = x[box], y[box], slope[box]
        cloth = 0.13 + 0.03 * smooth_noise(rng, 8, x.shape)
        picture[box] += soft(np.hypot(x, y) - self.opening, self.grain) * (cloth - picture[box])
        turn = self.grate.turn
        cosine, sine = np.cos(turn), np.sin(turn)
        a, b = x - self.grate.shift[0], y - self.grate.shift[1]
        own = np.stack([cosine * a + sine * b, cosine * b - sine * a], axis=-1)
        own_slope = np.stack(
            [
                cosine * slope[..., 0] + sine * slope[..., 1],
                cosine * slope[..., 1] - sine * slope[..., 0],
            ],
            axis=-1,
        )
        picture[box] = self.paint_grate(own, own_slope, picture[box])
        return picture

    def paint_frame(self, x: np.ndarray, y: np.ndarray, bench: np.ndarray) -> np.ndarray:
        width, height = PAPERS[self.paper]
        sheet = soft(np.maximum(np.abs(x) - width / 2, np.abs(y) - height / 2), self.grain)
        picture = bench + sheet * (0.88 - bench)
        for mark in list_marks(self.paper):
            away = np.maximum(np.abs(x - mark[0]), np.abs(y - mark[1])) - MARK_SIDE / 2
            near = away < 2
            picture[near] += soft(away[near], self.grain) * (0.07 - picture[near])
        ruler = np.maximum(np.abs(x) - RULER_LENGTH / 2, np.abs(y - place_ruler(self.paper)) - 0.25)
        return picture + soft(ruler, self.grain) * (0.1 - picture)

    def paint_grate(self, own: np.ndarray, slope: np.ndarray, around: np.ndarray) -> np.ndarray:
        rng, grate, shape = self.rng, self.grate, around.shape
        face = rng.uniform(0.42, 0.62) * (
            1 + 0.08 * smooth_noise(rng, 32, shape) + 0.04 * smooth_noise(rng, 5, shape)
        )
        face += 0.2 * np.clip(smooth_noise(rng, 68, shape) - 0.45, 0, 1)  # ash
        face *= 1 - 0.35 * np.clip(smooth_noise(rng, 96, shape) - 0.4, 0, 1)  # soot
        specks = rng.random(shape) < 0.0004
        face = np.where(specks, 0.85, face)
        radius, angle = np.hypot(own[..., 0], own[..., 1]), np.arctan2(own[..., 1], own[..., 0])
        rim, chip = grate.rim_radius(angle), grate.chip_depth(angle)
        away = radius - rim
        # Down beside the rim: where the ray meets the grate's own side, it is in the shade.
        below = own + slope * THICKNESS
        side = np.hypot(below[..., 0], below[..., 1]) < rim - 0.5
        beside = np.where(side & (away < 12), 0.45 * face * soft(away - 5, 8.0), around)
        picture = beside + soft(away, self.grain) * (face - beside)
        broken = soft(-chip, 1.0) * soft(away, self.grain) * soft(-(away + chip), self.grain)
        picture += np.where(chip > 0, broken, 0) * (0.6 * face - picture)
        return self.pierce(own, slope, picture, face)

    def pierce(
        self, own: np.ndarray, slope: np.ndarray, picture: np.ndarray, face: np.ndarray
    ) -> np.ndarray:
        for hole, blocked in zip(self.grate.holes, self.grate.blocked, strict=True):
            x, y = own[..., 0] - hole[0], own[..., 1] - hole[1]
            near = np.nonzero(x * x + y * y < (hole[2] + 3) ** 2)
            x, y = x[near], y[near]
            radius = hole[2] + hole[3] * np.cos(2 * (np.arctan2(y, x) - hole[4]))
            inside = soft(np.hypot(x, y) - radius, self.grain)
            if blocked:
                # Clay in the hole: a little darker, a groove round it.
                groove = 0.25 * inside * soft(radius - np.hypot(x, y) - 1, 1.0)
                picture[near] *= 1 - 0.06 * inside - groove
                continue
            # The deepest point of the wall that the ray still passes.
            bottom = np.hypot(x + slope[near][:, 0] * THICKNESS, y + slope[near][:, 1] * THICKNESS)
            wall = np.clip((bottom - radius) / 4, 0, 1) * 0.4 * face[near]
            dark = 0.07 + wall
            picture[near] += inside * (dark - picture[near])
        return picture

    def light(self, picture: np.ndarray) -> np.ndarray:
        """Uneven light and the edge of a shadow."""
        rng = self.rng
        x, y = np.meshgrid(
            np.linspace(-1, 1, WIDTH, dtype=np.float32),
            np.linspace(-1, 1, HEIGHT, dtype=np.float32),
        )
        direction = rng.uniform(0, 2 * np.pi)
        lit = 1 + rng.uniform(0, 0.25) * (x * np.cos(direction) + y * np.sin(direction))
        if rng.random() < 0.6:
            direction, taken = rng.uniform(0, 2 * np.pi), rng.uniform(0.3, 0.55)
            away = x * np.cos(direction) + y * np.sin(direction) - rng.uniform(-0.4, 0.4)
            lit *= 1 - taken * soft(away, rng.uniform(0.02, 0.12))
        return picture * lit


def expose(picture: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Blurred, with noise, through JPEG as a phone keeps it."""
    blurred = ndimage.gaussian_filter(picture, rng.uniform(0.5, 1.6))
    bright = rng.uniform(200, 255)
    noisy = blurred * bright + rng.normal(0, rng.uniform(1.5, 6), picture.shape)
    kept = io.BytesIO()
    Image.fromarray(np.clip(noisy, 0, 255).astype(np.uint8)).save(
        kept, "JPEG", quality=int(rng.integers(75, 93))
    )
    return np.asarray(Image.open(kept))


def make_scene(seed: int, size: tuple[float, float, float]) -> Scene:
    """The same seed gives the same. size: the grate's diameter, a hole's, the margin (mm)."""
    rng = np.random.default_rng(seed)
    diameter, hole, margin = size
    grate = make_grate(rng, diameter=diameter, hole=hole, margin=margin)
    opening = min(one for one in OPENING_RADII if one > diameter / 2 + 2)
    paper = "a4" if rng.random() < 0.5 else "letter"
    return Scene(grate, make_camera(rng), paper, opening, rng)
