"""The archive of one student: a zip of pages and tables that any browser and any spreadsheet opens."""

import io
import zipfile
from collections.abc import Sequence
from html import escape

from accounts.files import write_csv

STYLE = (
    "body{font:16px/1.5 system-ui,sans-serif;margin:2rem;max-width:75rem}"
    "table{border-collapse:collapse;margin:0 0 2rem}"
    "th,td{border:1px solid #999;padding:.3rem .5rem;text-align:left;vertical-align:top}caption{text-align:left;"
    "font-weight:600}.wide{overflow-x:auto}td{white-space:pre-wrap}"
)


def archive_file(
    title: str, about: Sequence[str], tables: Sequence[tuple[str, str, Sequence[str], Sequence[Sequence[str]]]]
) -> bytes:
    """A zip: `index.html` with all tables (name, title, headers, rows), and each as a CSV file beside it."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("index.html", _page(title, about, tables))
        for name, _, headers, rows in tables:
            archive.writestr(f"{name}.csv", write_csv(headers, rows))
    return packed.getvalue()


def _page(
    title: str, about: Sequence[str], tables: Sequence[tuple[str, str, Sequence[str], Sequence[Sequence[str]]]]
) -> str:
    parts = [
        f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>{escape(title)}</title>',
        f"<style>{STYLE}</style></head><body><h1>{escape(title)}</h1>",
        *(f"<p>{escape(text)}</p>" for text in about),
        "<h2>Contents</h2><ul>",
        *(
            f'<li><a href="#{name}">{escape(heading)}</a> ({len(rows)}), '
            f'also as <a href="{name}.csv">{name}.csv</a></li>'
            for name, heading, _, rows in tables
        ),
        "</ul>",
        *(_html_table(*table) for table in tables),
        "</body></html>",
    ]
    return "".join(parts)


def _html_table(name: str, heading: str, headers: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    head = "".join(f'<th scope="col">{escape(one)}</th>' for one in headers)
    body = "".join(f"<tr>{''.join(f'<td>{escape(cell)}</td>' for cell in row)}</tr>" for row in rows)
    return (
        f'<h2 id="{name}">{escape(heading)}</h2><div class="wide"><table><thead><tr>{head}</tr></thead>'
        f"<tbody>{body}</tbody></table></div>"
    )
