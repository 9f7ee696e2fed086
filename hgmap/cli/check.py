"""The command ``hgmap check``: a site, its plans, its readings."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from hgmap.cli.arguments import SiteArgument
from hgmap.errors import HgmapError


def check_command(
    site: SiteArgument,
    level: Annotated[str | None, typer.Option(help="Action level, in place of the site's.")] = None,
    out: Annotated[
        Path | None, typer.Option(help="Also write each round's quality page into this folder.")
    ] = None,
    picture: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="Draw every floor with what was found on it: PNG or SVG (of several floors "
            "FILE-floor), or one PDF.",
        ),
    ] = None,
    repair: Annotated[
        Path | None,
        typer.Option(metavar="FOLDER", help="Write a copy of the site with its plans repaired."),
    ] = None,
    refuse: Annotated[
        list[str] | None,
        typer.Option(
            metavar="NUMBERS",
            help='Findings whose repairs are left out of it, as "1,4-6"; may be given again.',
        ),
    ] = None,
) -> None:
    """Say what is wrong with a site folder, whether its plans are sound and its readings fit."""
    from hgmap.editing.plan_check import check_plans
    from hgmap.site.check import check_site
    from hgmap.site.importers.refused import numbers_of
    from hgmap.terminal.results import console_for_results, print_check

    if refuse and repair is None:
        raise HgmapError("only means something with --repair", where="--refuse",
                         todo="add `--repair FOLDER`")  # fmt: skip
    numbers = numbers_of(*refuse or ())
    found = check_site(site, level)
    plans = check_plans(site)
    made = None
    if repair is not None:
        from hgmap.editing.repair_site import repair_plans

        made = repair_plans(site, repair, refuse=numbers)
    drawn: list[Path] = []
    if picture is not None:
        from hgmap.report.soundness_files import write_pictures

        drawn = write_pictures(picture, found.site, plans)
    if out is not None:
        from hgmap.report.quality_files import write_quality
        from hgmap.site.files import slug
        from hgmap.site.staging import staged

        with staged(out) as stage:
            for report in found.quality:
                write_quality(stage / slug(report.round), found.site, found.level, report)
    print_check(found, plans)
    console = console_for_results()
    if made is not None and repair is not None:
        from hgmap.terminal.plan import print_repaired

        print_repaired(console, made, repair)
    for path in drawn:
        console.print(f"drawn: {path}")
    raise typer.Exit(max(found.exit_code, 0 if plans.sound else 1))
