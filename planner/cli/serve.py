"""`planner serve`: the page to work on."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import click

from planner.cli.common import (
    ANY_PATH,
    FILE,
    PlanPath,
    parse_date,
    road_option,
    told_plainly,
    workbook_argument,
)
from planner.problems import counted

if TYPE_CHECKING:
    from planner.office.open_day import SharedDay
    from planner.serve.guard import Keys


@click.command("serve")
@workbook_argument
@click.option(
    "--date",
    "when",
    help="Day to open, as 2027-04-14 [default: the plan's, else tomorrow or the next with orders].",
)
@click.option(
    "--plan",
    "plan_file",
    type=PlanPath(),
    help="plan.json to open [default: the day's plan of record, else nothing planned yet].",
)
@click.option("--out", type=ANY_PATH, help="Folder that is printed into [default: planned-DATE].")
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    default=8765,
    show_default=True,
    help="Port to listen at; 0 = any that is free.",
)
@click.option(
    "--lan",
    is_flag=True,
    help="Also answer other machines of the local network, as the crews' phones need it.",
)
@click.option(
    "--certificate",
    type=FILE,
    help="Serve https with this certificate (PEM), which the phones trust.",
)
@click.option(
    "--key", type=FILE, help="Its key (PEM, without a password) [default: in the same file]."
)
@road_option
def command(
    workbook: Path,
    when: str | None,
    plan_file: Path | None,
    out: Path | None,
    port: int,
    lan: bool,
    certificate: Path | None,
    key: Path | None,
    extract: Path | None,
) -> None:
    """Open a day of WORKBOOK as a page in the browser: move stops, see what it costs, print.

    Every change is kept at once, on this machine; the printed sheets stay as they are until you
    print. The tables are a page too: what is wrong in them, and cells to write. Ctrl-C ends it, and
    the next start goes on where you were.

    \b
    Example:
        planner serve spring --date 2027-04-14
        planner serve spring --plan wednesday --lan
    """
    from planner.outputs.folder import check_folder
    from planner.serve import run

    if key is not None and certificate is None:
        raise click.UsageError("--key goes with --certificate")
    with told_plainly():
        if out is not None:
            check_folder(out)
        https = run.checked_certificate(certificate, key) if certificate is not None else None
        listening = run.bound(port, lan)
        from planner.day.life import day_text
        from planner.office.opening import (
            NothingDue,
            date_of_office,
            next_planned,
            open_office,
            open_tables,
        )
        from planner.problems import WorkbookError
        from planner.roads.travel import RoadError
        from planner.serve.later import desks_of
        from planner.serve.run import OfficeSite

        asked: date | None = parse_date(when) if when else None

        def serve(wanted: date | None) -> None:
            when_open = date_of_office(wanted, plan_file)
            tables = open_tables(workbook, when_open)

            def made(keys: Keys, cookie: str, names: Sequence[str], address: str) -> OfficeSite:
                def opened(when: date | None) -> SharedDay:
                    if when is None:
                        return open_office(workbook, wanted, plan_file, extract, out)
                    return open_office(workbook, when, None, extract)

                site = OfficeSite(
                    opened,
                    tables,
                    desks_of(tables, workbook, extract, when_open),
                    keys,
                    cookie,
                    names,
                    address,
                )
                try:
                    site.open()
                except (WorkbookError, RoadError) as error:
                    if extract is not None and isinstance(error, RoadError):
                        raise
                    count = len(getattr(error, "problems", ("of the roads",)))
                    click.echo(
                        f"{counted(count, 'problem')} in {workbook}: the page begins "
                        "with its tables, and the day opens once they are cured."
                    )
                return site

            try:
                run.serve(made, tables.secret, listening, hosts, click.echo, https)
            except NothingDue:
                tables.close()
                raise

        hosts = run.lan_addresses() if lan else ()
        if lan:
            where = ", ".join(hosts) or "this machine"
            click.echo(
                f"--lan: every machine that reaches {where} can ask this page. Without the link or "
                "a truck's own key it is answered nothing"
                + (
                    "."
                    if https
                    else "; but on plain http, whoever listens on the network can read customers' "
                    "names and addresses. Use a network that you trust."
                )
            )
        why = run.why_not_trusted(certificate, key, hosts[0]) if certificate and hosts else ""
        if why:
            click.echo(
                f"Note: {certificate} does not serve {hosts[0]} ({why}); phones and browsers will "
                "warn of the page. The guide says how to make one that does."
            )
        if asked is not None or plan_file is not None:
            serve(asked)
        else:
            tomorrow = date.today() + timedelta(days=1)
            try:
                serve(tomorrow)
            except NothingDue as nothing:
                # Who has planned a day wants to see it, although orders may be due before it.
                planned = next_planned(workbook, tomorrow)
                following = planned or nothing.next_day
                if following is None:
                    raise
                which = "The next planned day" if planned else "The next day with due orders"
                click.echo(
                    f"No order is due tomorrow, {day_text(tomorrow)}. {which} is opened: "
                    f"{day_text(following)}. Another one: --date."
                )
                serve(following)
    click.echo("Ended. Every change is kept.")
