"""`planner export`: records for inspectors, annual reports and a customer's question."""

import re
from pathlib import Path

import click

from planner.cli.common import FileToWrite, force_option, tell, told_plainly, workbook_argument
from planner.problems import PlannerError, WorkbookError


@click.command("export")
@workbook_argument
@click.option("--month", help="Only this month, as 2027-04.")
@click.option("--year", help="Only this year, as 2027.")
@click.option("--state", default="", help="Only this state, as NY.")
@click.option("--sums", is_flag=True, help="Sums by state and product, for annual reports.")
@click.option("--property", "property_id", help="Everything ever recorded about one property.")
@click.option(
    "--filing",
    type=click.Choice(("NY", "VA")),
    help="In the columns of a state's yearly report: New York's Form 26, Virginia's areas by ZIP.",
)
@click.option("--times", is_flag=True, help="Each crew's report, release, hours and driving a day.")
@click.option("--calls", is_flag=True, help="The attempts to call registered people.")
@click.option("--out", type=FileToWrite(), help="File to write [default: print].")
@force_option
def command(
    workbook: Path,
    month: str | None,
    year: str | None,
    state: str,
    sums: bool,
    property_id: str | None,
    filing: str | None,
    times: bool,
    calls: bool,
    out: Path | None,
    force: bool,
) -> None:
    """Write the records of WORKBOOK as CSV, one row per application and product.

    The columns are those that the strictest of the published record rules ask for; `missing` names
    what a row lacks of what its state and its property ask for.

    \b
    Example:
        planner export spring --state NY --year 2027 --out ny-2027.csv
        planner export spring --year 2027 --sums
        planner export spring --year 2027 --filing NY
        planner export spring --property P-104
        planner export spring --year 2027 --calls
        planner export spring --month 2027-05 --times
    """
    if month and year:
        raise click.UsageError("give --month or --year, not both")
    if filing and (month or sums or state or property_id or calls or times):
        raise click.UsageError("--filing goes with --year alone")
    if (calls or times) and (sums or state or property_id or (calls and times)):
        one = "--calls" if calls else "--times"
        raise click.UsageError(f"{one} goes with --month or --year alone")
    period = _period(month, r"\d{4}-(0[1-9]|1[0-2])", "2027-04") or _period(year, r"\d{4}", "2027")
    with told_plainly():
        from planner.exports.rows import TimeRow
        from planner.exports.text import BYTE_ORDER_MARK, csv_text, table_text
        from planner.outputs.file import write_file
        from planner.records import filings, reports
        from planner.records import sums as sums_of
        from planner.records.calls import CalledRow, called_rows
        from planner.records.outcome import store_path
        from planner.records.store import Store
        from planner.records.times import recorded_times

        with Store(store_path(workbook)) as store:
            # '~' comes after every digit and hyphen: the whole period and nothing else.
            totals_only = sums and property_id is None
            wanted = (sums_of.APPLIED_KINDS, sums_of.ASKED_OF_SUMS) if totals_only else ((), ())
            events = store.events(period, f"{period}-~" if period else "9999", *wanted)
        only = filing or state.strip().upper()
        if filing == "NY":
            rows = filings.new_york(reports.application_rows(events, only))
            text = table_text(filings.NY_COLUMNS, rows)
        elif filing:
            text = table_text(filings.VA_COLUMNS, filings.virginia(events, _fertilizers(workbook)))
        elif calls:
            text = csv_text(CalledRow, called_rows(events))
        elif times:
            text = csv_text(TimeRow, recorded_times(workbook, period))
        elif property_id is not None:
            text = csv_text(reports.EventRow, reports.property_rows(events, property_id))
        elif sums:
            text = csv_text(sums_of.YearRow, sums_of.year_rows(events, period or "all", only))
        else:
            applied = reports.application_rows(events, only)
            text = csv_text(reports.ApplicationRow, applied)
        asked = [f"the property {property_id}" if property_id else "", only, period]
        if any(asked) and text.count("\n") == 1:
            raise PlannerError(f"nothing is recorded of {' in '.join(filter(None, asked))}")
        if out is None:
            click.echo(text.removeprefix(BYTE_ORDER_MARK), nl=False)
            return
        out = tell(write_file(out, text, force=force)).path
    click.echo(f"{out}: {text.count(chr(10)) - 1} rows.")


def _fertilizers(workbook: Path) -> frozenset[str]:
    """Ids of the products that feed, as the tables have them now."""
    from planner.chain import check_workbook
    from planner.compliance.state_rules import fertilizes

    reading = check_workbook(workbook)
    if reading.workbook is None:
        raise WorkbookError(reading.problems)
    return frozenset(name for name, one in reading.workbook.products.items() if fertilizes(one))


def _period(text: str | None, pattern: str, example: str) -> str:
    if text and not re.fullmatch(pattern, text):
        raise click.BadParameter(f"'{text}' is not written like {example}")
    return text or ""
