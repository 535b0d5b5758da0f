"""Lists of equipment as teachers write them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from schedule.class_hour.needs import NeedsError, needs_read, needs_write

KNOWN = {"Poly spots": 1, "Parachute": 2, "4 inch balls": 3, "Bean bags": 4}


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("12 poly spots, 1 parachute", {1: 12, 2: 1}),
        ("Parachute", {2: 1}),
        ("12 x Poly  Spots; parachute\n3 bean bags", {1: 12, 2: 1, 4: 3}),
        # A name that begins with a number is a name first.
        ("4 inch balls", {3: 1}),
        ("6 4 inch balls", {3: 6}),
        (" ,; ", {}),
    ],
)
def test_read(text: str, found: dict[int, int]) -> None:
    """Numbers before names; commas, semicolons or lines between."""
    assert needs_read(text, KNOWN) == found


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("2 parashutes", "Did you mean “Parachute”?"),
        ("3 trampolines", "Add it under Equipment first"),
        ("0 parachute", "from 1 to 999"),
        ("1000 bean bags", "from 1 to 999"),
        ("bean bags, 2 Bean Bags", "stands here twice"),
    ],
)
def test_what_cant_be_read_says_how_to_mend_it(text: str, words: str) -> None:
    """Never a guess."""
    with pytest.raises(NeedsError, match=words.replace("?", r"\?")):
        needs_read(text, KNOWN)


@given(st.dictionaries(st.sampled_from(sorted(KNOWN)), st.integers(1, 999)))
def test_what_is_written_is_read_again(needs: dict[str, int]) -> None:
    """There and back."""
    assert needs_read(needs_write(needs.items()), KNOWN) == {KNOWN[name]: count for name, count in needs.items()}
