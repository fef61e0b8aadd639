"""`planner roads`: describe a road extract."""

import json
from pathlib import Path

import click

from planner.caches import why_unused
from planner.cli.common import FILE_THERE, json_option


@click.command("roads")
@click.argument("extract", type=FILE_THERE)
@json_option("the description")
def command(extract: Path, as_json: bool) -> None:
    """Build and describe the road graph of EXTRACT (.osm.pbf).

    The graph is kept in the user's cache folder; the next plan with the same extract opens it
    from there.

    \b
    Example:
        planner roads maps/our-county.osm.pbf
    """
    from planner.roads.describe import describe
    from planner.roads.travel import RoadError

    try:
        facts = describe(extract)
    except RoadError as error:
        raise click.ClickException(str(error)) from error
    if unused := why_unused():
        click.echo(f"Note: {unused}", err=True)
    if as_json:
        click.echo(json.dumps(facts.as_json(), indent=2))
    else:
        click.echo("\n".join(facts.lines()))
