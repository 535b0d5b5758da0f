"""Words of advice: common practice, no source; each is said where it holds and not where it doesn't."""

import pytest

from schedule.class_hour.advice import AdvisedClass, AdvisedPart, advice_on


def part(title: str = "Game", minutes: int = 8, **of: bool) -> AdvisedPart:
    """A quiet part that the class knows."""
    values = {"is_loud": False, "is_known": True, "is_far_apart": False, **of}
    return AdvisedPart(title, minutes, **values)


@pytest.mark.parametrize(
    ("parts", "of", "words"),
    [
        ([part(minutes=12)], AdvisedClass(attention=8), "stays with one thing for about 8"),
        ([part(minutes=2) for _ in range(6)], AdvisedClass(attention=8), "5 changes in 12 minutes"),
        ([part(), part("Circle", 2)], AdvisedClass(ends_shorter=3), "“Circle” is cut to 2 minutes"),
        ([part()], AdvisedClass(ending_fell_out=True), "usual ending falls out"),
        ([part(is_far_apart=True)], AdvisedClass(leaves_the_room=True), "tends to leave the room"),
        (
            [part("Drums", is_loud=True), part("Tag", is_loud=True)],
            AdvisedClass(),
            "“Drums” and “Tag” are both loud",
        ),
        ([part(is_known=False)], AdvisedClass(), "Nothing here is marked as known"),
    ],
)
def test_it_is_said(parts: list[AdvisedPart], of: AdvisedClass, words: str) -> None:
    """One sentence each."""
    (said,) = advice_on(parts, of)
    assert words in said


@pytest.mark.parametrize(
    ("parts", "of"),
    [
        ([part(minutes=8)], AdvisedClass(attention=8)),
        ([part(minutes=12)], AdvisedClass()),
        ([part(), part("Circle", 5)], AdvisedClass(ends_shorter=3)),
        ([part(is_far_apart=True)], AdvisedClass()),
        ([part(is_loud=True), part(), part(is_loud=True)], AdvisedClass()),
        ([part(is_known=False), part()], AdvisedClass()),
        ([], AdvisedClass(attention=1, ending_fell_out=True, leaves_the_room=True)),
    ],
)
def test_it_isnt_said(parts: list[AdvisedPart], of: AdvisedClass) -> None:
    """Nothing where nothing is to be said."""
    assert advice_on(parts, of) == ()
