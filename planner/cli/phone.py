"""`planner phone`: a page per truck for the crews' phones, when there is no server."""

from pathlib import Path

import click

from planner.cli.common import (
    ANY_PATH,
    PlanPath,
    deliver,
    force_option,
    road_option,
    told_plainly,
    workbook_argument,
)
from planner.cli.packet import refuse_broken


@click.command("phone")
@workbook_argument
@click.argument("plan_file", type=PlanPath())
@click.option("--out", type=ANY_PATH, required=True, help="Folder to write.")
@click.option(
    "--at",
    "address",
    default="",
    help="Web address at which you put the folder; the sheet of links then shows QR codes.",
)
@road_option
@force_option
def command(
    workbook: Path, plan_file: Path, out: Path, address: str, extract: Path | None, force: bool
) -> None:
    """Write a page per truck of PLAN_FILE for the crews' phones, and a sheet of links.

    A page is one file and needs no network. What the crew writes stays on the phone; "Save as a
    file" gives an actuals sheet for `planner record`. The plan is audited first; with violations
    nothing is written and the exit code is 4.

    \b
    Example:
        planner phone spring wednesday/plan.json --out wednesday-phones
        planner phone spring wednesday --out web --at https://office.example/day
    """
    from planner.outputs.folder import check_folder

    with told_plainly():
        check_folder(out, force=force, marks=("links.html",))
        if address and not address.startswith(("http://", "https://")):
            raise click.UsageError("--at is a web address, http://… or https://…")
        from planner import chain
        from planner.phone_files import phone_files

        planned = chain.open_plan(plan_file, workbook, extract)
        refuse_broken(planned)
        files = phone_files(planned, address)
    deliver(out, files, force)
    pages = len(files) - 1
    told = "1 page; {} lists it." if pages == 1 else f"{pages} pages; {{}} lists them."
    click.echo(told.format(out / "links.html"))
