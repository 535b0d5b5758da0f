"""How schools are called where there is little room: by name, never by code. Pure."""

from collections.abc import Mapping, Sequence


def school_labels(name: str, names: Sequence[str]) -> tuple[str, ...]:
    """A school's name, then with words left off its end as long as no other of ``names`` starts so.

    Where that leaves several words, last the same with all but its last word cut to an initial.
    """
    told_apart = _told_apart(name, [other for other in names if other != name]) or [name]
    *first, last = told_apart[-1].split() or [name]
    initials = " ".join([*(f"{word[0]}." for word in first), last])
    return tuple(dict.fromkeys([*told_apart, *([initials] if first else [])]))


def _told_apart(name: str, others: Sequence[str]) -> list[str]:
    """The beginnings of a name, longest first, with which none of the others begins."""
    words = name.split()
    shortened = [" ".join(words[:count]) for count in range(len(words), 0, -1)]
    return [text for text in shortened if not any(other.startswith(text) for other in others)]


def short_school_names(schools: Mapping[int, str]) -> dict[int, str]:
    """By id: the shortest beginning of each name that no other of these schools shares."""
    names = list(schools.values())
    return {key: _shortest(name, names) for key, name in schools.items()}


def _shortest(name: str, names: Sequence[str]) -> str:
    return next((label for label in reversed(school_labels(name, names)) if name.startswith(label)), name)
