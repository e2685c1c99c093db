"""First use: say that loops are being compiled, keep what was compiled, or say what is missing.

The loops of drainage, windows, pits and bed levels are compiled on their first run and kept,
beside the package where that can be written, else in the user's cache folder. Where neither can
be written (a package installed by another user, no home) they are kept in a temporary folder for
as long as the process runs: slower to start each time, never refused, nothing left behind.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

from geo_site.errors import LibraryMissing

__all__ = ["LOOP", "PART", "keep_compiled", "told_when_compiling"]

_PLACE = "NUMBA_CACHE_DIR"

PART: Final[dict[str, Any]] = {
    "nogil": True,
    "error_model": "numpy",  # a division by zero gives inf or NaN, as in numpy, and no exception
    "no_cpython_wrapper": True,
    "no_cfunc_wrapper": True,
}
"""How what only other loops call is compiled: with no entry from Python or C, which cost time."""
LOOP: Final[dict[str, Any]] = {**PART, "no_cpython_wrapper": False, "cache": True}
"""How a loop that Python calls is compiled, and kept."""


def keep_compiled() -> None:
    """See to it that compiled loops can be kept somewhere; before the first of them is imported.

    Does nothing where the package can be written (they are kept beside it), or where the user has
    named a folder in the environment.
    """
    if os.environ.get(_PLACE) or _can_write(Path(__file__).parent / "__pycache__"):
        return
    kept = _user_cache()
    os.environ[_PLACE] = str(kept) if _can_write(kept) else _until_the_end()


def _until_the_end() -> str:
    """Make a folder that goes when the process ends."""
    import atexit  # noqa: PLC0415  # seldom needed, and `import geo_site` is to cost nothing
    import shutil  # noqa: PLC0415
    import tempfile  # noqa: PLC0415

    folder = tempfile.mkdtemp(prefix="geo-site-")
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return folder


def _user_cache() -> Path:
    """Our folder in the user's cache."""
    if sys.platform == "win32":
        home = Path(os.environ.get("LOCALAPPDATA", Path.home()))
    elif sys.platform == "darwin":
        home = Path.home() / "Library" / "Caches"
    else:
        home = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    return home / "geo_site"


def _can_write(folder: Path) -> bool:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError:
        return False
    return os.access(folder, os.W_OK | os.X_OK)


@contextmanager
def told_when_compiling(tell: Callable[[], None]) -> Iterator[None]:
    """Call ``tell`` once, when the first loop begins to be compiled inside the block.

    Parameters
    ----------
    tell : callable
        Called without arguments; not called where all that is needed was kept from before.

    Raises
    ------
    LibraryMissing
        If the compiler is not installed or does not load.
    """
    try:
        from numba.core import event  # noqa: PLC0415  # half a second, for those who compute only
    except ImportError as fault:
        raise LibraryMissing("numba", f"the loops over the terrain need it ({fault})") from fault

    class _Once(event.Listener):
        told = False

        def on_start(self, event: Any) -> None:
            if not self.told:
                self.told = True
                tell()

        def on_end(self, event: Any) -> None:
            pass

    with event.install_listener("numba:compile", _Once()):
        yield
