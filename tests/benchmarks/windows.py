"""The siting search against general ways to the same answer: where does a turned window fit?

One task: a grid of blocked and free cells, one rectangle in many rotations; for each rotation,
the cells about which every cell of the window is on the grid and free. It is an erosion by the
window, and a correlation with it that counts to nought.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from typing import Any, ClassVar

import numpy as np
from numpy.typing import NDArray
from scipy import fft, ndimage, signal

__all__ = ["CELL_M", "WAYS", "blocked_ground", "rotations"]

Bools = NDArray[np.bool_]

CELL_M = 0.25
LENGTH_M, WIDTH_M = 12.4, 4.9
FREE = 0.6


def blocked_ground(side: int, seed: int = 1) -> Bools:
    """Smooth random blots, `FREE` of the grid free."""
    rough = np.random.default_rng(seed).standard_normal((side, side), dtype=np.float32)
    smooth = ndimage.gaussian_filter(rough, 25.0)
    return np.asarray(smooth > np.quantile(smooth, FREE))


def rotations(number: int) -> list[float]:
    return [180.0 * k / number for k in range(number)]


def runs_of(rotation_deg: float) -> NDArray[np.int64]:
    from geo_site.outlines import row_runs

    return row_runs(LENGTH_M, WIDTH_M, rotation_deg, CELL_M)


def footprint(rotation_deg: float) -> NDArray[np.uint8]:
    """The window's cells on an odd square about its centre."""
    runs = runs_of(rotation_deg)
    reach = int(np.abs(runs).max())
    cells = np.zeros((2 * reach + 1, 2 * reach + 1), np.uint8)
    for row, first, last in runs:
        cells[reach + row, reach + first : reach + last + 1] = 1
    return cells


class Way:
    """A way to search; `clear` yields a mask for each rotation in turn."""

    name: ClassVar[str]
    package: ClassVar[str] = "scipy"
    most: ClassVar[int] = 36  # rotations that are run; of a slow way some, and the rest reckoned

    def clear(self, blocked: Bools, turns: list[float]) -> Iterator[Bools]:
        raise NotImplementedError


class OurWindows(Way):
    name, package = "geo_site", "geo_site"

    def __init__(self) -> None:
        from geo_site import outlines

        self.of = outlines

    def clear(self, blocked: Bools, turns: list[float]) -> Iterator[Bools]:
        windows = [runs_of(turn) for turn in turns]
        reach = max(int(np.abs(runs).max()) for runs in windows)
        clear_runs = self.of.clear_runs(blocked, reach)
        for runs in windows:
            found = self.of.clear_windows(clear_runs, runs)
            yield self.of.from_words(found, blocked.shape[1])


class OneTransform(Way):
    name = "FFT, the ground's transform kept (scipy.fft, 2 workers)"

    def clear(self, blocked: Bools, turns: list[float]) -> Iterator[Bools]:
        side = blocked.shape[0]
        reach = footprint(turns[0]).shape[0]
        size = [fft.next_fast_len(side + 2 * reach, real=True)] * 2
        padded = np.ones((side + 2 * reach, side + 2 * reach), np.float32)
        padded[reach:-reach, reach:-reach] = blocked
        ground = fft.rfft2(padded, size, workers=2)
        for turn in turns:
            window = footprint(turn).astype(np.float32)
            half = window.shape[0] // 2
            counted = fft.irfft2(
                ground * fft.rfft2(window[::-1, ::-1], size, workers=2), size, workers=2
            )
            first = reach + half
            yield counted[first : first + side, first : first + side] < 0.5


class Convolve(Way):
    name = "FFT in blocks (scipy.signal.oaconvolve)"

    def clear(self, blocked: Bools, turns: list[float]) -> Iterator[Bools]:
        for turn in turns:
            window = footprint(turn).astype(np.float32)
            half = window.shape[0] // 2
            ground = np.pad(blocked.astype(np.float32), half, constant_values=1.0)
            yield signal.oaconvolve(ground, window[::-1, ::-1], mode="valid") < 0.5


class OpenCv(Way):
    name, package = "cv2.erode", "opencv-python-headless"
    most = 6

    def __init__(self) -> None:
        import cv2

        self.of = cv2

    def clear(self, blocked: Bools, turns: list[float]) -> Iterator[Bools]:
        free = (~blocked).astype(np.uint8)
        for turn in turns:
            window = footprint(turn)
            eroded = self.of.erode(free, window, borderType=self.of.BORDER_CONSTANT, borderValue=0)
            yield np.asarray(eroded) > 0


class Morphology(Way):
    name, package = "skimage.morphology.erosion", "scikit-image"
    most = 2

    def __init__(self) -> None:
        from skimage.morphology import erosion

        self.of = erosion

    def clear(self, blocked: Bools, turns: list[float]) -> Iterator[Bools]:
        free = (~blocked).astype(np.uint8)
        for turn in turns:
            yield self.of(free, footprint(turn), mode="min") > 0


class NdImage(Way):
    name = "scipy.ndimage.binary_erosion"
    most = 2

    def clear(self, blocked: Bools, turns: list[float]) -> Iterator[Bools]:
        for turn in turns:
            yield ndimage.binary_erosion(~blocked, footprint(turn) > 0)


WAYS: dict[str, type[Way]] = {
    one.name: one for one in (OurWindows, OneTransform, Convolve, OpenCv, Morphology, NdImage)
}


def hashes(found: Iterator[Bools], number: int) -> list[str]:
    """Hash the first answers and drop each at once."""
    return [
        hashlib.blake2b(np.packbits(mask).tobytes(), digest_size=8).hexdigest()
        for mask, _ in zip(found, range(number), strict=False)
    ]


def search(way: Way, blocked: Bools, number: int) -> dict[str, Any]:
    """Run as many rotations as the way is asked for; hashing is in the time of each."""
    turns = rotations(number)[:: max(number // min(number, way.most), 1)][: way.most]
    return {"turns": turns, "hashes": hashes(way.clear(blocked, turns), len(turns))}
