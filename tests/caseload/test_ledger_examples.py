"""The worked example beside the rules for short weeks. By hand; sources in docs/minutes-ledger.md."""

from caseload.ledger.examples import short_week_examples
from caseload.ledger.terms import DEFAULT_SHORT_WEEK


def test_each_rule_says_what_the_example_owes() -> None:
    """2 x 30 with Monday closed: 60 whole (8 NYCRR 135.4), 48 of four days (N.J.S.A. 18A:35-8), 30 as scheduled.

    The last in the manner of 23 Ill. Adm. Code 1.425(b). Without a day in session none owes anything.
    """
    found = {code: (one.short, one.closed, one.behind) for code, one in short_week_examples().items()}
    assert found == {"whole": (60, 0, 30), "proportion": (48, 0, 18), "as_scheduled": (30, 0, 0)}
    assert found[DEFAULT_SHORT_WEEK.value][2] == 0


def test_the_words_hold_the_numbers() -> None:
    """As they stand beside the rule."""
    words = {code: one.words for code, one in short_week_examples().items()}
    assert words["proportion"] == (
        "48 minutes in the week with the holiday, 18 still owed after Wednesday; 0 without school."
    )
    assert "nothing owed after Wednesday" in words["as_scheduled"]
