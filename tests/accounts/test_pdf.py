"""PDF files of our own pages."""

import io
from pathlib import Path

import pypdf
import pytest

from accounts.pdf import pdf_of

PAGE = "<html lang='en'><head><title>T</title>{head}</head><body><p>Signed here</p>{body}</body></html>"


@pytest.mark.usefixtures("pango")
def test_the_words_can_be_read_from_the_file() -> None:
    reader = pypdf.PdfReader(io.BytesIO(pdf_of(PAGE.format(head="", body=""))))
    assert "Signed here" in reader.pages[0].extract_text()


@pytest.mark.usefixtures("pango")
def test_nothing_is_loaded_from_the_disk(tmp_path: Path) -> None:
    """A style sheet on the disk would turn the words into others."""
    sheet = tmp_path / "words.css"
    sheet.write_text("p::after { content: ' LOADED' }")
    link = f"<link rel='stylesheet' href='{sheet.as_uri()}'>"
    inside = "<link rel='stylesheet' href=\"data:text/css,p::after{content:' LOADED'}\">"
    texts = [
        pypdf.PdfReader(io.BytesIO(pdf_of(PAGE.format(head=head, body="")))).pages[0].extract_text()
        for head in (link, inside)
    ]
    assert ["LOADED" in text for text in texts] == [False, True]
