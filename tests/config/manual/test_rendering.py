"""Chapters of the manual from Markdown, by markdown-it-py; what is ours are anchors, links and what is refused."""

import pytest

from config.manual.rendering import Addresses, Section, anchor_of, chapter_from

TO = Addresses(
    lambda name: f"/{name}/", lambda name, section: f"/manual/{name}/" + (f"#{section}" if section else "")
)
WHOLE = Addresses(TO.page, lambda name, section: f"#{name}-{section}" if section else f"#{name}", whole=True)


def test_headings_have_anchors_and_those_of_the_second_level_are_sections() -> None:
    chapter = chapter_from("log", "# The log\n\n## What isn\u2019t sent\n\n### More of it\n\nWords.\n", TO)
    assert chapter.title == "The log"
    assert chapter.sections == (Section("what-isnt-sent", "What isn\u2019t sent"),)
    assert '<h2 id="what-isnt-sent">What isn\u2019t sent</h2>' in chapter.html
    assert '<h3 id="more-of-it">' in chapter.html
    assert "The log" not in chapter.html


def test_an_anchor_is_made_of_words_alone() -> None:
    assert anchor_of("Who\u2019s next? 2 of 3, at 10:30") == "whos-next-2-of-3-at-10-30"


def test_links_lead_to_pages_chapters_and_sections() -> None:
    text = "# A\n\n[Log](page:log) [Miles](mileage.md) [Rates](mileage.md#rates) [below](#b) [out](https://a.example/)\n"
    html = chapter_from("a", text, TO).html
    for address in ("/log/", "/manual/mileage/", "/manual/mileage/#rates", "/manual/a/#b", "https://a.example/"):
        assert f'href="{address}"' in html


def test_on_one_page_anchors_have_their_chapter_and_headings_are_lower() -> None:
    html = chapter_from("a", "# A\n\n## One\n\n[there](b.md#two) [here](#one) [b](b.md)\n", WHOLE).html
    assert '<h3 id="a-one">One</h3>' in html
    for address in ("#b-two", "#a-one", "#b"):
        assert f'href="{address}"' in html


@pytest.mark.parametrize(
    "text",
    ["<script>alert(1)</script>", "Words <b onclick='x'>bold</b>", "[press](javascript:alert(1))",
     "![x](data:text/html,a)"],
)  # fmt: skip
def test_nothing_of_the_source_comes_out_as_html_of_its_own(text: str) -> None:
    """OWASP's cheat sheet on cross-site scripting: markup and script addresses come out as text."""
    html = chapter_from("a", f"# A\n\n{text}\n", TO).html
    for risky in ("<script", "<b ", 'href="javascript', 'src="data'):
        assert risky not in html


@pytest.mark.parametrize(
    ("text", "problem"),
    [("Words first.\n", "no title"), ("## Second\n", "no title"), ("# A\n\n[x](other.txt)\n", "links to other.txt"),
     ("# A\n\n[x](http://a.example/)\n", "links to http://a.example/")],
)  # fmt: skip
def test_what_a_chapter_may_not_hold_is_named(text: str, problem: str) -> None:
    with pytest.raises(ValueError, match=problem):
        chapter_from("a", text, TO)
