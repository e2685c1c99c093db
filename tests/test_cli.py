"""The command line: what it prints where, and with which exit code it leaves."""

from __future__ import annotations

import gc
import json
import subprocess
import sys
from pathlib import Path

import pytest
from site_files import SiteFolder

import geo_site.readers
from geo_site import __version__
from geo_site import cli as cli_module
from geo_site.bundle import OUTPUT_NAMES
from geo_site.cli import run
from geo_site.errors import InputRefused

WHEN_THERE = {"costs.csv", "alternatives.csv", "changes.csv"}  # no prices, one plan, nothing drawn

QUICK = {"siting": {"units": 6, "shortlist": 2, "rotation_step": 45.0}}


@pytest.fixture
def site(tmp_path: Path) -> SiteFolder:
    """A small site on disk with few places to try."""
    (tmp_path / "in").mkdir()
    folder = SiteFolder(tmp_path / "in")
    folder.document.update(QUICK)
    return folder


def test_check_tells_what_was_read(site: SiteFolder, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["check", str(site.write())]) == 0
    out = capsys.readouterr().out
    for word in ("parcel", "terrain", "utilities", "EPSG:32617", "missing"):
        assert word in out
    assert max(map(len, out.splitlines())) <= 80


def test_check_as_json(site: SiteFolder, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["check", str(site.write()), "--format", "json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert {row["name"] for row in told["inputs"]} >= {"parcel", "terrain", "utilities"}
    assert told["missing"]


def test_propose_writes_and_sums_up(
    site: SiteFolder, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    assert run(["propose", str(site.write()), "-o", str(out)]) == 0
    assert {path.name for path in out.iterdir()} == OUTPUT_NAMES - WHEN_THERE
    printed = capsys.readouterr()
    assert "plan.gpkg" in printed.out
    assert "note:" in printed.err
    plan = json.loads((out / "plan.json").read_text(encoding="utf-8"))
    assert plan["status"] == "proposed"
    assert run(["propose", str(site.write()), "-o", str(out)]) == 3
    assert run(["propose", str(site.write()), "-o", str(out), "--overwrite", "-q"]) == 0
    assert capsys.readouterr().out == ""


def test_no_place_is_4_and_everything_is_written(
    site: SiteFolder, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    site.document["constraints"] = {"steepest": 0.01}
    assert run(["propose", str(site.write()), "-o", str(tmp_path / "out")]) == 4
    plan = json.loads((tmp_path / "out" / "plan.json").read_text(encoding="utf-8"))
    assert plan["status"] == "no_place"
    rules = {row["rule"]: row for row in plan["no_place"]}
    steep = next(row for rule, row in rules.items() if "steep" in rule)
    assert steep["ground_m2"] == pytest.approx(1200.0, rel=0.05)
    assert "no place" in capsys.readouterr().out


def test_refusals_are_3_in_one_line_and_write_nothing(
    site: SiteFolder, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    site.inputs["terrain"]["path"] = "gone.tif"
    assert run(["propose", str(site.write()), "-o", str(tmp_path / "out")]) == 3
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err.count("\n") == 1
    assert "gone.tif" in printed.err
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    "arguments",
    [["propose"], ["propose", "a.toml"], ["nothing"], ["check"], ["layers", "--format", "x"]],
)
def test_wrong_use_is_2(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert run(arguments) == 2
    assert capsys.readouterr().err


def test_a_fault_of_ours_is_1(
    site: SiteFolder, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    import geo_site.readers

    def stumble(*_: object, **__: object) -> None:
        raise ZeroDivisionError("planted")

    monkeypatch.setattr(geo_site.readers, "read_site", stumble)
    assert run(["check", str(site.write())]) == 1
    assert "a fault of ours" in capsys.readouterr().err


def test_an_interruption_is_130(site: SiteFolder, monkeypatch: pytest.MonkeyPatch) -> None:
    import geo_site.readers

    def interrupt(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(geo_site.readers, "read_site", interrupt)
    assert run(["check", str(site.write())]) == 130


def test_layers_lists_the_contract(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["layers", "--format", "json"]) == 0
    names = [layer["name"] for layer in json.loads(capsys.readouterr().out)]
    assert names[0] == "parcel"
    assert {"basin", "stream_alignment", "clearances", "dig_area", "set_out"} <= set(names)
    assert run(["layers"]) == 0
    assert "clearance_m" in capsys.readouterr().out


def test_settings_lists_value_unit_meaning_source(
    site: SiteFolder, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["settings"]) == 0
    out = capsys.readouterr().out
    assert "constraints.utility_buffer.gas = 1.5 m" in out
    assert "source: " in out
    assert run(["settings", str(site.write()), "--format", "json"]) == 0
    rows = {row["key"]: row for row in json.loads(capsys.readouterr().out)}
    assert rows["siting.units"]["value"] == 6
    assert not rows["siting.units"]["is_default"]
    for key, row in rows.items():
        assert row["unit"], key
        assert row["meaning"], key
        assert row["source"], key


def test_version_names_every_library(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["--version"]) == 0
    out = capsys.readouterr().out
    assert __version__ in out
    for word in ("GDAL", "PROJ", "GEOS", "rasterio", "pyogrio", "pyproj", "shapely"):
        assert word in out


def test_help_imports_nothing_heavy() -> None:
    """``--help`` answers before numba, GDAL or pandas are loaded."""
    code = (
        "import sys; from geo_site.cli import run; run(['--help']); "
        "print([m for m in ('numba', 'numpy', 'pandas', 'rasterio', 'pyproj') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


def test_python_m_runs_it() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "geo_site", "layers", "--format", "json"],
        capture_output=True,
        text=True,
        check=True,
    )
    assert json.loads(done.stdout)


def test_quiet_progress_when_nobody_looks(capsys: pytest.CaptureFixture[str]) -> None:
    cli_module._progress(False)("terrain")
    assert capsys.readouterr().err == ""


def test_lists_fit_a_narrow_terminal(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "60")
    assert run(["settings"]) == 0
    assert run(["layers"]) == 0
    assert max(map(len, capsys.readouterr().out.splitlines())) <= 60


@pytest.mark.parametrize(
    "words",
    [
        ["check", "SITE"],
        ["propose", "SITE", "-o", "OUT"],
        ["assess", "SITE", "plan.gpkg", "-o", "OUT"],
        ["explain", "SITE", "--at", "1", "2"],
        ["sweep", "SITE", "water.lip_head=10..20mm", "-o", "OUT"],
    ],
)
def test_a_process_of_its_own_collects_garbage_once_all_is_loaded(
    words: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[tuple[bool, bool]] = []

    def read(*_: object, **__: object) -> None:
        seen.append((gc.isenabled(), gc.get_freeze_count() > 0))
        raise InputRefused("enough is known", remedy="none")

    monkeypatch.setattr(geo_site.readers, "read_site", read)
    places = {"SITE": str(tmp_path / "site.toml"), "OUT": str(tmp_path / "out")}
    monkeypatch.setattr(sys, "argv", ["geo-site", *(places.get(word, word) for word in words)])
    frozen = gc.get_freeze_count() > 0
    try:
        assert run(sys.argv[1:]) == 3  # as a library: nothing is changed
        with pytest.raises(SystemExit):
            cli_module.main()
    finally:
        gc.enable()
        gc.unfreeze()
    assert seen == [(True, frozen), (True, True)]
