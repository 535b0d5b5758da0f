"""The tables in words, for docs/importing.md."""

from schedule.imports.tables.columns import RowRole, Table


def describe_table(table: Table) -> str:
    """One table as a section of Markdown."""
    key = " and ".join(f"“{header}”" for header in table.key_headers)
    role = f"a set for each {key}" if table.role is RowRole.SET else f"records by {key}"
    lines = [
        f"### {table.title} (`{table.kind}`)",
        f"{table.about} Rows are {role}.",
        "",
        "| column | needed | kind | what to write | example |",
        "| --- | --- | --- | --- | --- |",
    ]
    for column in table.columns:
        words = f" One of: {', '.join(column.words)}." if column.words else ""
        needed = "yes" if column.required else ""
        cells = (column.header, needed, column.kind.value, f"{column.help}{words}", column.example)
        lines.append(f"| {' | '.join(cell.replace('|', '/') for cell in cells)} |")
    return "\n".join(lines) + "\n"
