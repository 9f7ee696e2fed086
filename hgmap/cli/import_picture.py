"""The commands ``hgmap import picture`` and ``hgmap import walls``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from hgmap.cli.arguments import SiteArgument


def import_picture_command(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="PNG, JPEG, TIFF or PDF.")],
    into: Annotated[Path, typer.Option(help="The site folder; made if it is not there.")],
    floor: Annotated[str, typer.Option(help="The floor; made, without a room, if it is new.")],
    point: Annotated[
        list[str] | None,
        typer.Option(
            metavar="COLUMN,ROW=X,Y",
            help="A point of the picture (pixels from its upper left corner) and its place (m); "
            "give it again, two or more.",
        ),
    ] = None,
    length: Annotated[
        float | None,
        typer.Option(help="Metres between two --point COLUMN,ROW; the first is the origin."),
    ] = None,
    metres_per_pixel: Annotated[
        float | None, typer.Option(help="Side of a pixel; the lower left corner is the origin.")
    ] = None,
    turn: Annotated[
        float | None, typer.Option(help="Degrees, counter-clockwise, that the picture is turned.")
    ] = None,
    world_file: Annotated[
        Path | None, typer.Option(help="Six numbers that place the picture, in the plan's metres.")
    ] = None,
    page: Annotated[int | None, typer.Option(help="Page of a PDF or TIFF, from 1.")] = None,
    dpi: Annotated[
        float | None, typer.Option(help="Dots an inch that a PDF is painted with; 200.")
    ] = None,
    use: Annotated[
        str | None, typer.Option(help="For a new site: what the building is used for.")
    ] = None,
    replace: Annotated[
        bool, typer.Option("--replace", help="Replace the floor's picture.")
    ] = False,
) -> None:
    """Lay a picture of a drawing under a floor's plan, to draw after."""
    from hgmap.editing.import_picture import import_picture
    from hgmap.editing.picture_placing import Placing
    from hgmap.site.pictures.placed import read_point
    from hgmap.terminal.pictures import print_picture

    points = tuple(read_point(one) for one in point or ())
    placing = Placing(points, length, metres_per_pixel, turn, world_file)
    done = import_picture(file, into, floor, placing, page=page, dpi=dpi, use=use, replace=replace)
    print_picture(done, into, floor)
    raise typer.Exit(1 if done.doubts else 0)


def import_walls_command(
    site: SiteArgument,
    floor: Annotated[str, typer.Option(help="The floor whose picture is looked at.")],
    accept: Annotated[
        str | None,
        typer.Option(metavar="NUMBERS", help='What goes into the plan: "all", or "1-12,15,d1-d3".'),
    ] = None,
    picture: Annotated[
        Path | None,
        typer.Option(help="Draw them over the picture: PNG, PDF, SVG; results/walls-FLOOR.png."),
    ] = None,
    threshold: Annotated[
        int | None, typer.Option(help="Grey, 0 (black) to 254, that a line is as dark as.")
    ] = None,
    laser_map: Annotated[
        bool | None,
        typer.Option("--laser-map/--drawing", help="What the picture is, where that is mistaken."),
    ] = None,
    shortest: Annotated[
        float | None, typer.Option(metavar="METRES", help="Shorter lines are no walls; 0.5.")
    ] = None,
    thickest: Annotated[
        float | None, typer.Option(metavar="METRES", help="Thicker ink is no wall; 0.6.")
    ] = None,
    widest_door: Annotated[
        float | None, typer.Option(metavar="METRES", help="Wider gaps are no doors; 2.0.")
    ] = None,
) -> None:
    """Propose walls from the picture of a floor; without --accept the plan stays as it is."""
    from hgmap.from_picture import WallsRun, walls_from_picture
    from hgmap.site.wall_finding.proposed import WallSearch
    from hgmap.terminal.pictures import print_walls

    usual = WallSearch()
    search = WallSearch(
        threshold,
        laser_map,
        usual.shortest_m if shortest is None else shortest,
        usual.thickest_m if thickest is None else thickest,
        usual.narrowest_door_m,
        usual.widest_door_m if widest_door is None else widest_door,
    )
    run: WallsRun = walls_from_picture(site, floor, search, accept=accept, picture=picture)
    print_walls(run, floor)
    raise typer.Exit(0 if run.accepted is not None and not run.accepted.there else 1)
