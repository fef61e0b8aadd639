"""`planner columns`: every column of every table, explained."""

import json
from dataclasses import asdict
from itertools import groupby

import click

from planner.cli.common import json_option
from planner.tables.columns import REQUIRED_TABLES, ROW_IS, Column, all_columns, table_names

KINDS = {
    "text": "text",
    "id": "short name",
    "number": "number",
    "whole": "whole number",
    "money": "money",
    "time": "time of day (8:30 AM or 16:30)",
    "date": "date (2027-04-14 or 4/14/2027)",
    "yes_no": "yes or no",
    "rate": "label rate (1.5 fl oz/1000 sq ft)",
    "amount": "amount (2.5 gal; 50 lb)",
    "stock": "amount (2.5 gal; 50 lb; 0 gal)",
    "unit": "unit (gal; lb)",
    "windows": "windows (8:00-11:30; 13:00-15:00)",
    "weekdays": "weekdays (Mon; Tue or Mon-Fri)",
    "dates": "dates and spans (2027-07-04; 2027-08-01 to 2027-08-14)",
    "month_day": "day of any year (Apr 15 or 4/15)",
    "phone": "phone number (614-555-0123, words such as 'cell' may stand with it)",
    "email": "email address",
}
"""Kind of a column -> how to write it."""


@click.command("columns")
@click.argument("table", required=False, type=click.Choice(table_names()))
@json_option("the list")
def command(table: str | None, as_json: bool) -> None:
    """Explain every column of TABLE, or of all tables: what it holds, its unit, whether it is
    required, and what a blank cell means. Rows of settings are settings.

    \b
    Example:
        planner columns orders
    """
    chosen = [column for column in all_columns() if table in (None, column.table)]
    if as_json:
        click.echo(json.dumps([asdict(column) for column in chosen], indent=1))
        return
    blocks = [
        "\n".join([_title(name), *map(_lines, columns)])
        for name, columns in groupby(chosen, key=lambda column: column.table)
    ]
    click.echo("\n\n".join(blocks))


def _title(table: str) -> str:
    need = "required" if table in REQUIRED_TABLES else "may be missing"
    return f"{table} ({need}): {ROW_IS[table]}"


def _lines(column: Column) -> str:
    return f"  {column.column}: {_facts(column)}\n      {column.meaning}"


def _facts(column: Column) -> str:
    facts = [kind_text(column)]
    if column.unit:
        facts[0] += f" [{column.unit}]"
    if column.least is not None or column.most is not None:
        ends = (column.least, column.most)
        facts.append(" to ".join("" if end is None else f"{end:,.10g}" for end in ends))
    facts.append("required" if column.required else "may be blank")
    if column.default:
        facts.append(f"blank = {column.default}")
    return ", ".join(facts)


def kind_text(column: Column) -> str:
    """What a cell of the column holds, in words."""
    if column.choices:
        return "one of " + ", ".join(column.choices)
    if column.ref_table:
        return f"{'names' if column.is_list else 'a name'} from {column.ref_table}"
    text = KINDS[column.item_kind]
    return f"list of {text}, cut at ; or ," if column.is_list else text
