"""A frequency as somebody typed or pasted it, made plain: one line, small letters, one dash, hours in minutes."""

import re
import unicodedata

ONES = ["one", "two", "three", "four", "five", "six", "seven", "eight", "nine"]
TEENS = [
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
]
TENS = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]
NUMBER_WORDS = {word: value for value, word in enumerate(ONES + TEENS, start=1)}
NUMBER_WORDS |= {word: value * 10 for value, word in enumerate(TENS, start=2)}
NUMBER_WORDS |= {f"{ten}-{one}": NUMBER_WORDS[ten] + NUMBER_WORDS[one] for ten in TENS for one in ONES}
# Longest first: "sixteen" must not be read as "six".
_WORDS_PATTERN = "|".join(sorted(NUMBER_WORDS, key=len, reverse=True)).replace("-", "[- ]")
NUMBER_PATTERN = rf"(?:\d+|{_WORDS_PATTERN})"

_HOUR = r"(?:hours?|hrs?|h)\b"
_HALF = r"(?:(?:an?\s+|one\s+)?half(?:\s+of)?(?:[-\s]+an?)?|1/2(?:\s+of)?(?:\s+an?)?)"
_BULLETS = "-*\u2022\u00b7 "
_SIMPLE = (
    (re.compile(r"\b(?:an?\s+|one\s+|1\s+)?hour and a half\b"), "90 minutes"),
    (re.compile(r"\b(?:an?\s+|one\s+|1\s+)?hour and a quarter\b"), "75 minutes"),
    (re.compile(r"\b(?:an?\s+|one\s+|1\s+)?hour and three[-\s]quarters\b"), "105 minutes"),
    (re.compile(rf"\b(?:three|3)[-\s]quarters?\s+of\s+an\s+hour\b|(?<![\d/])3/4[-\s]*{_HOUR}"), "45 minutes"),
    (
        re.compile(rf"\b(?:a\s+)?quarter(?:\s+of\s+an|[-\s]+an)?[-\s]+hour\b|(?<![\d/])1/4[-\s]*{_HOUR}"),
        "15 minutes",
    ),
    (re.compile(rf"(?<![\d/\w]){_HALF}[-\s]*{_HOUR}"), "30 minutes"),
    (re.compile(r"\ban hour\b"), "1 hour"),
    (re.compile(rf"({_HOUR}) and (?={NUMBER_PATTERN}[-\s]*min)"), r"\1 "),
    # "nine-week period" and "4-week cycle" are so many weeks.
    (re.compile(rf"\b({NUMBER_PATTERN})[-\s]weeks?[-\s](?:periods?|blocks?)\b"), r"\1 weeks"),
    (re.compile(r"(?<=\d),(?=\d{3}(?!\d))"), ""),
    (re.compile(r"\s-\s"), " , "),
)
# "2 half-hours" and "2 1/2-hour sessions" are two of 30 minutes; "2 1/2 hours" is one length.
_HALF_HOURS = re.compile(rf"\b(?P<whole>{NUMBER_PATTERN})\s+half[-\s]*{_HOUR}(?:\s+sessions?\b)?")
_AND_A_HALF = re.compile(
    rf"\b(?P<whole>{NUMBER_PATTERN})\s+(?:and\s+(?:(?:a|one)\s+)?(?:half|1/2)|1/2)[-\s]*{_HOUR}"
    r"(?P<sessions>\s+sessions\b)?"
)
# "1¼ hours" and "two and three quarters of an hour"; "2 1/4-hour sessions" are two of 15 minutes.
_QUARTERS = {"1": 15, "3": 45}
_AND_QUARTERS = re.compile(
    rf"\b(?P<whole>{NUMBER_PATTERN})\s+(?:(?P<count>[13])/4|and\s+(?:(?P<one>an?\s+quarter)|three[-\s]quarters))"
    rf"[-\s]*{_HOUR}(?P<sessions>\s+sessions\b)?"
)
_RANGE = re.compile(
    rf"(?<![/.\d])\b(?P<low>{NUMBER_PATTERN})\s*(?:-|to|or)\s*(?P<high>\d+(?!\d)|(?:{_WORDS_PATTERN})\b)"
    r"(?![/.]\d)(?![- ]?(?:days?[- ]cycle|weeks?[- ](?:period|block)))"
)
_COMPOUND = re.compile(rf"\b({'|'.join(TENS)})-({'|'.join(ONES)})\b")


def number_of(text: str) -> int:
    """Value of digits or of a number word."""
    return int(text) if text.isdigit() else NUMBER_WORDS[text.replace(" ", "-")]


def clean(text: str) -> str:
    """The text in one plain line.

    Dashes of every kind become one, line breaks and spaces of every kind one space, characters without a shape go;
    fractions of an hour become minutes. Two numbers that make a range stand with "to" between them.
    """
    shaped = "".join(_plain(char) for char in text)
    line = " ".join(unicodedata.normalize("NFKC", shaped).replace("\u2044", "/").lower().split()).lstrip(_BULLETS)
    line = _RANGE.sub(r"\g<low> to \g<high>", _COMPOUND.sub(r"\1 \2", line))
    line = _HALF_HOURS.sub(lambda one: f"{one['whole']} x 30 minutes", line)
    line = _AND_A_HALF.sub(_and_a_half, line)
    line = _AND_QUARTERS.sub(_and_quarters, line)
    for pattern, plain in _SIMPLE:
        line = pattern.sub(plain, line)
    return line


def _plain(char: str) -> str:
    """Fractions apart from the digit before them (1½ isn't 11/2), one dash, nothing for what can't be seen."""
    category = unicodedata.category(char)
    if char in "\u00bc\u00bd\u00be":
        return " " + unicodedata.normalize("NFKC", char)
    if category == "Pd" or char == "\u2212":
        return "-"
    return "" if category == "Cf" else char


def range_in(line: str) -> re.Match[str] | None:
    """Two numbers in a cleaned line of which one is meant, `low` and `high`."""
    return _RANGE.search(line)


def _and_a_half(found: re.Match[str]) -> str:
    """An hour or more with half an hour in minutes, or so many half hours."""
    whole = number_of(found["whole"])
    if found["sessions"] and whole > 1:
        return f"{whole} x 30 minutes"
    return f"{60 * whole + 30} minutes{found['sessions'] or ''}"


def _and_quarters(found: re.Match[str]) -> str:
    """An hour or more with a quarter or three of another, or so many sessions of a part of one."""
    whole = number_of(found["whole"])
    part = _QUARTERS[found["count"] or ("1" if found["one"] else "3")]
    if found["sessions"] and found["count"] and whole > 1:
        return f"{whole} x {part} minutes"
    return f"{60 * whole + part} minutes{found['sessions'] or ''}"
