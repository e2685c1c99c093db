"""The page of bad input shows what the command line says to each case, word by word.

``python tests/test_bad_input_page.py`` makes the page's tables again.
"""

from __future__ import annotations

import contextlib
import copy
import io
import re
import shutil
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from page_tables import read, remade, rewrite, table
from plan_files import small_plan
from site_files import SiteFolder
from test_plan_file_refusals import BAD_PINS, BAD_PLANS, write
from test_readers_refusals import BAD_INPUTS

from geo_site.cli import run

PAGE = "bad_input.md"
# What a library says of a broken file changes with its version.
BY_A_LIBRARY = re.compile(r"(broken or cut short|cannot be read|no archive) \(.*\)")


@dataclass(frozen=True)
class Told:
    """What one case gets: exit code, and what stands on stderr."""

    wrong: str
    message: str
    code: int


@dataclass(frozen=True)
class Case:
    """One case: what is wrong, how a good site is broken, and what is asked of the program."""

    wrong: str
    break_it: Callable[[SiteFolder], object]
    command: Callable[[SiteFolder], Sequence[str]]


def _check(site: SiteFolder) -> Sequence[str]:
    return ("check", str(site.folder / "site.toml"))


def _setting(table_name: str, **keys: object) -> Callable[[SiteFolder], object]:
    return lambda site: site.document.update({table_name: keys})


def _text(content: bytes) -> Callable[[SiteFolder], object]:
    """A site file of any bytes, beside the good one."""
    return lambda site: (site.folder / "broken.toml").write_bytes(content)


def _check_broken(site: SiteFolder) -> Sequence[str]:
    return ("check", str(site.folder / "broken.toml"))


def _nothing(site: SiteFolder) -> None:
    del site


def _stranger_in_output(site: SiteFolder) -> None:
    (site.folder / "out").mkdir()
    (site.folder / "out" / "letter.txt").write_text("not ours", encoding="utf-8")


def _old_output(site: SiteFolder) -> None:
    (site.folder / "out").mkdir()
    (site.folder / "out" / "plan.json").write_text("{}", encoding="utf-8")


def _propose(*options: str, to: str = "out") -> Callable[[SiteFolder], Sequence[str]]:
    return lambda site: (
        "propose", str(site.folder / "site.toml"), "-o", str(site.folder / to), *options
    )  # fmt: skip


def _assess(site: SiteFolder) -> Sequence[str]:
    plan = str(site.folder / "plan.gpkg")
    return ("assess", str(site.folder / "site.toml"), plan, "-o", str(site.folder / "out"))


SITE_FILES = (
    Case("no such site file", _nothing, lambda s: ("check", str(s.folder / "none.toml"))),
    Case("not TOML", _text(b"name = \n"), _check_broken),
    Case("not text", _text(b"name = '\xff'\n"), _check_broken),
    Case("no inputs", _text(b"name = 'a'\n"), _check_broken),
)
SETTINGS = (
    Case("an unknown table", _setting("laout", wanted_fall=1.0), _check),
    Case("an unknown setting", _setting("layout", wanted_fal=1.0), _check),
    Case("a unit of another kind", _setting("layout", wanted_fall="20 gpm"), _check),
    Case("a value that cannot be", _setting("siting", void_ratio=1.5), _check),
    Case("a word that is no choice", _setting("constraints", hand_dig="sometimes"), _check),
    Case("a batter too steep", _setting("siting", batter=0.5), _check),
    Case("units that do not stack", _setting("siting", units=7, layers=2), _check),
)
OUTPUT = (
    Case("an output that is there already", _old_output, _propose()),
    Case("an output with what is not ours", _stranger_in_output, _propose("--overwrite")),
    Case("an output that is a file", _nothing, _propose(to="terrain.tif")),
)
GROUPS = {
    "inputs": tuple(Case(case.name, case.break_it, _check) for case in BAD_INPUTS),
    "site_files": SITE_FILES,
    "plans": tuple(Case(case.name, case.break_it, _assess) for case in BAD_PLANS),
    "fixed": tuple(Case(case.name, case.break_it, _check) for case in BAD_PINS),
    "settings": SETTINGS,
    "output": OUTPUT,
}


def _copied(good: SiteFolder, folder: Path) -> SiteFolder:
    """The good site in another folder: copying its files is faster than writing them anew."""
    shutil.copytree(good.folder, folder, dirs_exist_ok=True)
    site = copy.copy(good)
    site.folder, site.document = folder, copy.deepcopy(good.document)
    return site


def told(case: Case, good: SiteFolder) -> Told:
    """Run one case in a folder of its own; the folder's name is left out of the message."""
    with tempfile.TemporaryDirectory() as name:
        site = _copied(good, Path(name))
        site.document["fixed"] = {}
        case.break_it(site)
        write(site)
        heard = io.StringIO()
        with contextlib.redirect_stderr(heard), contextlib.redirect_stdout(io.StringIO()):
            code = run(case.command(site))
        message = heard.getvalue().strip().removeprefix("geo-site: ")
        for path in (name, Path(name).as_posix()):
            message = message.replace(f"{path}/", "").replace(path, "the site file's folder")
    return Told(case.wrong, BY_A_LIBRARY.sub(r"\1 (...)", message), code)


@cache
def rows_of(group: str) -> tuple[Told, ...]:
    """Every case of a group, run once."""
    with tempfile.TemporaryDirectory() as name:
        good = SiteFolder(Path(name))
        small_plan(good.folder)
        return tuple(told(case, good) for case in GROUPS[group])


def _maker(group: str) -> Callable[[Sequence[str]], str]:
    def make(keys: Sequence[str]) -> str:
        assert not keys
        rows = [(row.wrong, f"`{row.message}`", str(row.code)) for row in rows_of(group)]
        return table(("what is wrong", "message", "exit code"), rows)

    return make


MAKERS = {group: _maker(group) for group in GROUPS}


def test_the_page_says_what_the_program_says():
    text = read(PAGE)
    assert remade(text, MAKERS) == text, "run: python tests/test_bad_input_page.py"


def test_every_group_is_on_the_page():
    text = read(PAGE)
    assert [group for group in GROUPS if f"<!-- {group}: -->" not in text] == []


def test_bad_input_is_refused_in_one_line_that_a_page_can_show():
    for group in GROUPS:
        for row in rows_of(group):
            assert row.code == 3, row
            assert len(row.message) > 20, row
            assert "\n" not in row.message, row
            assert "`" not in row.message, row
            assert "fault of ours" not in row.message, row


if __name__ == "__main__":
    rewrite(PAGE, MAKERS)
