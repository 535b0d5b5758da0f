"""How many syllables a word has, English and Spanish, from its spelling.

Pure. English is an estimate: spelling doesn't decide it. Of the words of running text it counts about 98 of 100
as a pronouncing dictionary does. Spanish follows the rules of its spelling, which decide it: diphthong and hiatus
(Real Academia Española, Ortografía, 2010).
"""

import re
from collections.abc import Callable

_ENGLISH_GROUP = re.compile(r"[aeiouy]+")
_MUTE_AT_THE_END = (
    re.compile(r"[^aeiouy]e$(?<![^aeiouyl]le)"),  # place, but table
    re.compile(r"[^aeiouytd]ed$(?<![^aeiouyrl]led)"),  # asked, but needed and handled
    re.compile(r"[^aeiouyscxzgh]es$(?<![^aeiouyl]les)"),  # times, but pieces and tables
)
_MUTE_WITHIN = re.compile(
    r"(?:some|where|there|time|every|home|more|fore|like|make|place|safe|care|case|game|base|hope|use|one|side|line"
    r"|name|page|whole|lone|state|else)"
    r"(?:thing|where|body|times|table|with|work|room|ful|less|ly|ment|time|one|load|what|day|man|house|out|ball|ty"
    r"|line|cast|ness)(?![aeiouy])|[aeiouy][^aeiouyl]e(?:ly|ments?)$|ically$|havior"
)
"""A mute e where two words became one or before an ending, and what is swallowed."""
_TWO_SYLLABLES = re.compile(
    r"ia(?!n$|ns$|l$|lly$|lis)|(?<![tcsgx])io|[^gq]ua[lrt]|eo(?!u|ple)|[aeoy]ing|creat(?!ur)|iu|sm$|ier$|iest$|coord"
    r"|[dnrlbvphm]ious|uity|beyond|[rd]ea$|thm|science|quiet|client|(?:[ds]n't|[sxz]'s|[gc]e's)$"
)
"""Vowels side by side that are two syllables, and endings that make one without a vowel."""
_SPANISH_VOWELS = "aeiouáéíóúü"
_SPANISH_OPEN = "aeoáéíóú"
"""Vowels that hold a syllable of their own: open ones, and closed ones with an accent."""


def syllables_in(word: str, language: str) -> int:
    """How many syllables a word has, at least 1. A number counts as one."""
    counts: dict[str, Callable[[str], int]] = {"en": _english, "es": _spanish}
    return max(1, counts[language](word.casefold().replace("\u2019", "'")))


def _english(word: str) -> int:
    groups = len(_ENGLISH_GROUP.findall(word))
    mute = sum(bool(ending.search(word.removesuffix("'s"))) for ending in _MUTE_AT_THE_END)
    return groups - mute - len(_MUTE_WITHIN.findall(word)) + len(_TWO_SYLLABLES.findall(word))


def _spanish(word: str) -> int:
    """Groups of vowels, each with as many syllables as open vowels, at least one; the u of que and gui is mute."""
    heard = re.sub(r"(?<=[qg])u(?=[eiéí])", "", word)
    heard = re.sub(r"y(?![aeiouáéíóú])", "i", heard)
    groups = re.findall(f"[{_SPANISH_VOWELS}]+", heard)
    return sum(max(1, sum(letter in _SPANISH_OPEN for letter in group)) for group in groups)
