"""A progress report for print: for the team, or for the family in its language."""

from django.template.loader import render_to_string
from django.utils import translation

from accounts.pdf import pdf_of
from caseload.ledger.defaults import NO_JUDGMENT
from schedule.telling.drafting import day_format
from schedule.telling.selectors.reports import FAMILY, ToldReport

TEMPLATES = {"team": "schedule/telling/print_team.html", FAMILY: "schedule/telling/print_family.html"}


def report_html(view: ToldReport, audience: str, nonce: str = "") -> str:
    """A whole page with its style inside; a browser takes the style by the answer's `nonce` only."""
    language = view.row.family_language if audience == FAMILY else "en"
    context = {"view": view, "parts": view.parts(audience), "language": language, "nonce": nonce}
    with translation.override(language):
        return render_to_string(
            TEMPLATES[audience], {**context, "no_judgment": NO_JUDGMENT, "day_format": day_format()}
        )


def report_pdf(view: ToldReport, audience: str) -> bytes:
    """The same as PDF. Raises `ApplicationError` (code ``no_pdf``) where PDF can't be made here."""
    return pdf_of(report_html(view, audience))
