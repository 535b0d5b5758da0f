"""HTML of our own as a PDF file, for reports and vouchers of every floor."""

from importlib import import_module

from accounts.errors import ApplicationError

NO_PANGO = (
    "PDF files can't be made on this server: the library Pango is missing (see docs/dependencies.md). Print the "
    "page, or take the XLSX or CSV file."
)


def pdf_of(html: str) -> bytes:
    """A whole HTML page with its style inside as PDF, tagged for screen readers (PDF/UA).

    Nothing is read from the disk or the network: only addresses that carry their own data are loaded. Raises
    `ApplicationError` (code ``no_pdf``) where the system library is missing.
    """
    try:
        # Only here: the site must run where the system library isn't installed.
        weasyprint, urls = import_module("weasyprint"), import_module("weasyprint.urls")
    except OSError as error:
        raise ApplicationError(NO_PANGO, code="no_pdf", status=503) from error
    own_data_only = urls.URLFetcher(allowed_protocols=["data"])
    page = weasyprint.HTML(string=html, url_fetcher=own_data_only)
    return bytes(page.write_pdf(pdf_variant="pdf/ua-1"))
