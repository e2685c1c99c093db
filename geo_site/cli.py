"""The command line: parse, call, print, exit code.

Data goes to stdout, progress and messages to stderr. Exit codes: 0 done; 1 a fault of ours;
2 wrong use, or a library is missing; 3 input or output refused, in one line; 4 done, and there
is no place or a clearance is not met; 130 interrupted. Heavy libraries are imported by the
command that needs them.
"""

from __future__ import annotations

import gc
import itertools
import json
import shutil
import sys
import traceback
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from geo_site import __version__
from geo_site.errors import GeoSiteError, LibraryMissing

if TYPE_CHECKING:
    from geo_site.plan import Plan
    from geo_site.readers import CheckRow

__all__ = ["main"]

_SITE = click.argument("site_file", metavar="SITE.toml", type=click.Path(path_type=Path))
_FORMAT = click.option(
    "--format", "form", type=click.Choice(["text", "json"]), default="text", help="How to print."
)
_NOTES_SHOWN = 5  # the gravest; a page of notes hides them
_NEXT = (
    ("plan.html", "the map, on a phone or a desk"),
    ("clearance.pdf", "before anyone digs"),
    ("plan.gpkg", "layers for a desktop GIS"),
)
_QUIET = click.option("-q", "--quiet", is_flag=True, help="Say nothing but refusals.")
_VERBOSE = click.option("-v", "--verbose", is_flag=True, help="Show the whole trace of a fault.")


def main() -> None:
    """Run the command line and leave with its exit code."""
    gc.disable()  # until a command has loaded what it needs: see _loaded
    sys.exit(run(sys.argv[1:]))


def run(arguments: Sequence[str]) -> int:
    """Run the command line.

    Parameters
    ----------
    arguments : sequence of str
        Without the program's name.

    Returns
    -------
    int
        Exit code.
    """
    try:
        done = commands.main(args=list(arguments), prog_name="geo-site", standalone_mode=False)
    except click.ClickException as wrong:
        wrong.show()
        return 2
    except GeoSiteError as refused:
        return _told(str(refused), refused.exit_code)
    except (click.exceptions.Abort, KeyboardInterrupt):
        return _told("interrupted; nothing was written", 130)
    except ImportError as absent:
        return _absent(absent, verbose=bool({"-v", "--verbose"} & set(arguments)))
    except Exception as fault:  # noqa: BLE001  # the last line of defence: tell it, exit 1
        return _fault(fault, verbose=bool({"-v", "--verbose"} & set(arguments)))
    return int(done or 0)


def _loaded() -> None:
    """Leave what was loaded out of garbage collection, and begin to collect.

    Libraries and our own modules are half a million objects that stay until the end; going
    through them time and again took a tenth of a run. In a process that is not ours alone
    nothing is changed: only ``main`` puts collecting off.
    """
    if not gc.isenabled():
        gc.freeze()
        gc.enable()


def _told(sentence: str, code: int) -> int:
    click.echo(f"geo-site: {sentence}", err=True)
    return code


def _absent(absent: ImportError, *, verbose: bool) -> int:
    """Tell a library that is missing or does not load from a fault in our own imports."""
    library = (absent.name or "").split(".")[0]
    if library == "geo_site":
        return _fault(absent, verbose=verbose)
    missing = LibraryMissing(library or "a library", str(absent))
    return _told(str(missing), missing.exit_code)


def _fault(fault: Exception, *, verbose: bool) -> int:
    if verbose:
        traceback.print_exception(fault)
    where = traceback.extract_tb(fault.__traceback__)[-1]
    return _told(
        f"a fault of ours, nothing was written: {type(fault).__name__}: {fault} "
        f"({Path(where.filename).name}, line {where.lineno}); -v shows the trace",
        1,
    )


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.option(
    "--version", is_flag=True, is_eager=True, expose_value=False,
    callback=lambda ctx, _, asked: _print_version(ctx) if asked else None,
    help="Print the versions of geo-site and of the libraries under it.",
)  # fmt: skip
def commands() -> None:
    """Site a recirculating stream on a private lot: basin, stream, drainage, clearances.

    A desk study, not a utility locate: call before you dig, and expose by hand.
    """


def _print_version(context: click.Context) -> None:
    from geo_site.versions import library_versions

    click.echo(f"geo-site {__version__}")
    for name, version in library_versions().items():
        click.echo(f"{name} {version}")
    context.exit(0)


@commands.command()
@_SITE
@_FORMAT
@_QUIET
@_VERBOSE
def check(site_file: Path, form: str, quiet: bool, verbose: bool) -> int:  # noqa: ARG001
    """Read and judge the inputs; compute nothing else."""
    from geo_site.readers import read_site
    from geo_site.readers.check import check_rows, missing

    _loaded()
    site = read_site(site_file, progress=_progress(quiet))
    rows, absent = check_rows(site), missing(site)
    if form == "json":
        _print_json({"inputs": [vars(row) for row in rows], "missing": list(absent)})
        return 0
    for row in rows:
        _print_block(f"{row.name}: {row.path}", _told_of(row))
    _print_block("missing, and what it would improve", absent or ["nothing"])
    return 0


def _told_of(row: CheckRow) -> list[str]:
    age = "" if row.age_days is None else f", {_days(row.age_days)} the ticket's day"
    facts = [
        f"{row.count} read, {row.crs}, unit {row.unit}",
        f"extent in the working grid, m: {row.extent}" if row.extent else "nothing near the parcel",
        f"file of {row.modified}{age}",
    ]
    return [*facts, *row.notes]


def _days(before: int) -> str:
    return f"{before} days before" if before >= 0 else f"{-before} days after"


@commands.command()
@_SITE
@click.option(
    "-o", "--output", required=True, metavar="DIR", type=click.Path(path_type=Path),
    help="Folder for the plan.",
)  # fmt: skip
@click.option("--overwrite", is_flag=True, help="Replace an earlier plan in that folder.")
@click.option(
    "--alternatives", metavar="N", type=click.IntRange(1), default=1,
    help="Work out the first N places in full, side by side.",
)  # fmt: skip
@_QUIET
@_VERBOSE
def propose(  # one for each option, as click asks
    site_file: Path,
    output: Path,
    overwrite: bool,
    alternatives: int,
    quiet: bool,
    verbose: bool,  # noqa: ARG001
) -> int:
    """Propose basin, stream and clearances: the main job."""
    from geo_site.compiling import told_when_compiling

    with told_when_compiling(lambda: _say_compiling(quiet)):
        from geo_site.readers import read_site  # first: it makes the format libraries safe

        from geo_site.bundle import check_target, write_plan  # isort: skip
        from geo_site.plan import propose as propose_plan  # isort: skip

        _loaded()
        check_target(output, overwrite=overwrite)
        say = _progress(quiet)
        site = read_site(site_file, progress=say)
        plan = propose_plan(site, progress=say, alternatives=alternatives)
        say("writing")
        write_plan(plan, output, overwrite=overwrite)
    if not quiet:
        _print_plan(plan, output)
    return 4 if plan.status == "no_place" or plan.breaks_rules else 0


@commands.command()
@_SITE
@click.argument("plan_file", metavar="PLAN.gpkg", type=click.Path(path_type=Path))
@click.option(
    "-o", "--output", required=True, metavar="DIR", type=click.Path(path_type=Path),
    help="Folder for the plan as assessed.",
)  # fmt: skip
@click.option(
    "--alternative", metavar="N", type=click.IntRange(1), default=None,
    help="Which plan, where the file holds several: none is taken unasked.",
)  # fmt: skip
@click.option("--overwrite", is_flag=True, help="Replace an earlier plan in that folder.")
@_QUIET
@_VERBOSE
def assess(  # noqa: PLR0913, PLR0917  # one for each option, as click asks
    site_file: Path,
    plan_file: Path,
    output: Path,
    alternative: int | None,
    overwrite: bool,
    quiet: bool,
    verbose: bool,  # noqa: ARG001
) -> int:
    """Judge works that a person drew or moved in a plan's layers.

    What is drawn is kept; what is missing is worked out round it; what breaks a rule is told.
    """
    from geo_site.compiling import told_when_compiling

    with told_when_compiling(lambda: _say_compiling(quiet)):
        from geo_site.readers import read_drawn, read_site  # first: it makes the formats safe

        from geo_site.bundle import check_target, write_plan  # isort: skip
        from geo_site.plan import assess as assess_drawn  # isort: skip

        _loaded()
        check_target(output, overwrite=overwrite)
        say = _progress(quiet)
        site = read_site(site_file, progress=say)
        say("reading what was drawn")
        drawn, earlier = read_drawn(plan_file, site, alternative=alternative)
        plan = assess_drawn(site, drawn, earlier, progress=say)
        say("writing")
        write_plan(plan, output, overwrite=overwrite)
    if not quiet:
        _print_plan(plan, output)
    return 4 if plan.status == "no_place" or plan.breaks_rules else 0


def _say_compiling(quiet: bool) -> None:
    """Say on stderr why this run is slow, also where nobody follows the steps."""
    if not quiet:
        click.echo("first run: compiling, about 40 s; later runs start at once", err=True)


def _print_plan(plan: Plan, output: Path) -> None:
    from geo_site.tables import compared_lines, drawn_lines, relaxed_lines, summary_lines
    from geo_site.units import counted, in_report

    told = (drawn_lines(plan), relaxed_lines(plan), compared_lines(plan))
    for line in (*summary_lines(plan), *itertools.chain(*told)):
        click.echo(line)
    click.echo(f"open next, in {output}:")
    for name, use in _NEXT:
        if (output / name).exists():
            click.echo(f"  {name:<14} {use}")
    for sentence in plan.warnings[:_NOTES_SHOWN]:
        _print_block(f"note: {in_report(sentence, plan.site.report_units)}", (), err=True)
    left = len(plan.warnings) - _NOTES_SHOWN
    if left > 0:
        click.echo(f"and {counted(left, 'more note')} in plan.pdf", err=True)


@commands.command()
@_SITE
@click.option(
    "--at", "spot", nargs=2, type=float, required=True, metavar="X Y",
    help="The point, in the CRS that the layers are written in.",
)  # fmt: skip
@_FORMAT
@_QUIET
@_VERBOSE
def explain(
    site_file: Path,
    spot: tuple[float, float],
    form: str,
    quiet: bool,
    verbose: bool,  # noqa: ARG001
) -> int:
    """Say what every rule says of a spot, and whether a basin fits there."""
    from geo_site.readers import point_of, read_site  # first: it makes the formats safe

    from geo_site.plan import explain as explain_spot  # isort: skip
    from geo_site.tables import explanation_document, explanation_lines  # isort: skip

    _loaded()
    say = _progress(quiet)
    site = read_site(site_file, progress=say)
    found = explain_spot(site, *point_of(spot, site), progress=say)
    if form == "json":
        _print_json(explanation_document(found))
        return 0
    for head, lines in explanation_lines(found, site.report_units):
        _print_block(head, lines)
    return 0


@commands.command()
@_SITE
@click.argument("values", metavar="TABLE.SETTING=VALUES...", nargs=-1, required=True)
@click.option(
    "-o", "--output", required=True, metavar="DIR", type=click.Path(path_type=Path),
    help="Folder for sweep.csv and sweep.pdf.",
)  # fmt: skip
@click.option("--most", type=click.IntRange(1), help="Allow this many runs.")
@click.option("--overwrite", is_flag=True, help="Replace an earlier sweep in that folder.")
@_QUIET
@_VERBOSE
def sweep(  # noqa: PLR0913, PLR0917  # one for each option, as click asks
    site_file: Path,
    values: tuple[str, ...],
    output: Path,
    most: int | None,
    overwrite: bool,
    quiet: bool,
    verbose: bool,  # noqa: ARG001
) -> int:
    """See what changes with a setting: water.lip_head=10..40mm siting.units=16,20,24."""
    from geo_site.readers import read_grid, read_site  # first: it makes the formats safe

    from geo_site.bundle import SWEEP_NAMES, check_target, write_sweep  # isort: skip
    from geo_site.plan import MOST_RUNS, sweep as run_sweep  # isort: skip
    from geo_site.tables import sweep_lines  # isort: skip

    _loaded()
    check_target(output, overwrite=overwrite, names=SWEEP_NAMES)
    axes, say = read_grid(values), _progress(quiet)
    site = read_site(site_file, progress=say)
    found = run_sweep(site, axes, most_runs=most or MOST_RUNS, progress=say)
    write_sweep(found, output, overwrite=overwrite)
    for line in sweep_lines(found):
        click.echo(line)
    return 0


@commands.command()
@_FORMAT
def layers(form: str) -> None:
    """List the layers of a plan: fields, units, meaning."""
    from geo_site.layers import catalogue

    rows = catalogue()
    if form == "json":
        _print_json(rows)
        return
    for layer in rows:
        lines = [f"{f['name']} [{f['unit']}] {f['meaning']}" for f in layer["fields"]]
        _print_block(f"{layer['name']} ({layer['geometry']}): {layer['meaning']}", lines)


@commands.command()
@click.argument("site_file", metavar="[SITE.toml]", required=False, type=click.Path(path_type=Path))
@_FORMAT
def settings(site_file: Path | None, form: str) -> None:
    """List every setting: value, unit, meaning, source; those of a site file if one is named."""
    from geo_site.plan import Settings

    used = Settings() if site_file is None else _settings_of(site_file)
    rows = used.rows()
    if form == "json":
        _print_json([vars(row) for row in rows])
        return
    for row in rows:
        mark = "" if row.is_default else " (set by the site file)"
        unit = "" if row.unit == "-" else f" {row.unit}"
        value = ", ".join(map(str, row.value)) if isinstance(row.value, tuple) else row.value
        _print_block(f"{row.key} = {value}{unit}{mark}", [row.meaning, f"source: {row.source}"])


def _settings_of(site_file: Path) -> Any:
    from geo_site.readers import read_settings

    return read_settings(site_file)


def _progress(quiet: bool) -> Callable[[str], None]:
    """Name each step on stderr as it begins, when a person is looking."""
    if quiet or not sys.stderr.isatty():
        return lambda _: None
    return lambda word: click.echo(f"... {word}", err=True)


def _print_json(rows: Any) -> None:
    click.echo(json.dumps(rows, indent=1, ensure_ascii=False, default=str))


def _print_block(head: str, lines: Iterable[str], *, err: bool = False) -> None:
    width = min(shutil.get_terminal_size().columns, 80) - 2
    click.echo(click.wrap_text(head, width=width, subsequent_indent="  "), err=err)
    for line in lines:
        click.echo(
            click.wrap_text(line, width=width, initial_indent="  ", subsequent_indent="    "),
            err=err,
        )
