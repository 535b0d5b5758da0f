"""The help of each page: a few lines, and where more is said. One table by the name of its address."""

from functools import cache

from config.manual.lines.asking import PageHelp
from config.manual.lines.day import DAY
from config.manual.lines.district import DISTRICT
from config.manual.lines.minutes import MINUTES
from config.manual.lines.schools import SCHOOLS
from config.manual.lines.students import STUDENTS
from config.manual.lines.weeks import WEEKS

HELP: dict[str, PageHelp] = {**DAY, **WEEKS, **MINUTES, **STUDENTS, **SCHOOLS, **DISTRICT}
"""A key that ends in an underscore is of every page whose name begins so and that has no key of its own."""


def key_of(name: str) -> str | None:
    """The key of the help of a page's address: its own, or the longest that its name begins with."""
    if name in HELP:
        return name
    return max((key for key in HELP if key.endswith("_") and name.startswith(key)), key=len, default=None)


@cache
def help_of(name: str) -> PageHelp | None:
    """The help of the page whose address has this name; none where nobody wrote any."""
    key = key_of(name)
    return None if key is None else HELP[key]
