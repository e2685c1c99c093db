"""First use: what is said while loops are compiled, and where they are kept."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "geo_site"

_PLACES = ("NUMBA_CACHE_DIR", "XDG_CACHE_HOME")
LOOPS = """
import numba
from geo_site.compiling import told_when_compiling

@numba.njit(cache=True)
def doubled(x):
    return 2.0 * x

with told_when_compiling(lambda: print("told")):
    assert doubled(3.0) == 6.0
    assert doubled(3) == 6.0
"""


def run(words: list[str], **environment: str) -> subprocess.CompletedProcess[str]:
    """Run Python in an environment without a place for compiled loops of its own."""
    inside = {k: v for k, v in os.environ.items() if k not in _PLACES} | environment
    return subprocess.run(
        [sys.executable, "-P", *words], capture_output=True, text=True, env=inside, check=False
    )


@pytest.fixture
def installed(tmp_path: Path) -> Path:
    """The package in a folder of its own; no file can be made in any of its `__pycache__`.

    A file stands where each folder would be: that holds for every user, the administrator too.
    """
    place = tmp_path / "installed"
    shutil.copytree(PACKAGE, place / "geo_site", ignore=shutil.ignore_patterns("__pycache__"))
    for folder in [path for path in place.rglob("*") if path.is_dir()]:
        (folder / "__pycache__").write_text("")
    return place


def drained(place: Path, home: Path, **environment: str) -> subprocess.CompletedProcess[str]:
    """Compile one loop of the package and say where it is kept."""
    script = (
        "import geo_site.outlines.levels as levels, numpy as np\n"
        "surface = levels.Surface(np.ones((2, 2)), 0.0, 2.0, 1.0, 1.0)\n"
        "assert levels.level_at(surface, 1.0, 1.0) == 1.0\n"
        "print(levels.__file__)\n"
        "print(levels.level_at.stats.cache_path)\n"
    )
    given = {"PYTHONPATH": str(place), "HOME": str(home), **environment}
    return run(["-c", script], **given)


def test_told_once_and_not_again_when_kept(tmp_path: Path) -> None:
    """Two specialisations, one word; nothing on the second run, which loads what was kept."""
    script = tmp_path / "loops.py"
    script.write_text(LOOPS)
    given = {"PYTHONPATH": str(PACKAGE.parent), "NUMBA_CACHE_DIR": str(tmp_path / "kept")}
    assert run([str(script)], **given).stdout == "told\n"
    assert run([str(script)], **given).stdout == ""


def test_kept_in_the_users_cache_where_the_package_cannot_be_written(
    installed: Path, tmp_path: Path
) -> None:
    done = drained(installed, tmp_path / "home")
    assert done.returncode == 0, done.stderr
    file, kept = done.stdout.split()
    assert Path(file).is_relative_to(installed)
    assert Path(kept).is_relative_to(tmp_path / "home")
    assert list(Path(kept).glob("*.nbc"))


def test_a_blank_cache_folder_in_the_environment_is_none(installed: Path, tmp_path: Path) -> None:
    done = drained(installed, tmp_path / "home", XDG_CACHE_HOME="")
    assert Path(done.stdout.split()[1]).is_relative_to(tmp_path / "home")


def test_works_and_leaves_nothing_where_nothing_can_be_written(
    installed: Path, tmp_path: Path
) -> None:
    home, temporary = tmp_path / "home", tmp_path / "tmp"
    home.write_text("no folder")
    temporary.mkdir()
    done = drained(installed, home, TMPDIR=str(temporary))
    assert done.returncode == 0, done.stderr
    assert Path(done.stdout.split()[1]).is_relative_to(temporary)
    assert not list(temporary.iterdir())


def test_a_folder_that_the_user_names_is_used(installed: Path, tmp_path: Path) -> None:
    named = tmp_path / "named"
    done = drained(installed, tmp_path / "home", NUMBA_CACHE_DIR=str(named))
    assert Path(done.stdout.split()[1]).is_relative_to(named)
    assert not (tmp_path / "home").exists()


@pytest.mark.parametrize("fault", ["ModuleNotFoundError('gone', name='numba')",
                                   "ImportError('numba needs another numpy')"])  # fmt: skip
def test_without_the_compiler_one_line_and_nothing_written(tmp_path: Path, fault: str) -> None:
    """Exit code 2: no input is at fault."""
    (tmp_path / "numba.py").write_text(f"raise {fault}\n")
    given = {"PYTHONPATH": os.pathsep.join([str(tmp_path), str(PACKAGE.parent)])}
    sample = str(PACKAGE.parent / "sample_data" / "hillside" / "site.toml")
    done = run(["-m", "geo_site", "propose", sample, "-o", str(tmp_path / "out")], **given)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.count("\n") == 1
    assert "numba cannot be used" in done.stderr
    assert "install" in done.stderr
    assert not (tmp_path / "out").exists()
    checked = run(["-m", "geo_site", "check", sample], **given)
    assert (checked.returncode, checked.stderr.count("\n")) == (2, 1)
    assert run(["-m", "geo_site", "--help"], **given).returncode == 0
