"""Every file that a page asks for is there."""

import re
from pathlib import Path

from django.contrib.staticfiles import finders

from config.phone.shell import SHELL

ROOT = Path(__file__).resolve().parents[2]
STATIC = re.compile(r"""{% static ['"]([^'"]+)['"] %}""")


def test_every_static_file_that_a_template_names_exists() -> None:
    """A style sheet that isn't there is missed by nobody but the reader."""
    pages = [
        one
        for floor in ("accounts", "caseload", "config", "schedule", "travel")
        for one in (ROOT / floor).rglob("*.html")
    ]
    named = {(name, page.name) for page in pages for name in STATIC.findall(page.read_text(encoding="utf-8"))}
    assert len(named) > 50
    assert [one for one in sorted(named) if finders.find(one[0]) is None] == []


def test_what_a_phone_keeps_of_the_program_exists() -> None:
    assert [name for name in SHELL if finders.find(name) is None] == []
