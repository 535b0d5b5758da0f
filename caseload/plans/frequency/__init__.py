"""How often and how long a service is owed: read from plain text as plans write it, and written back.

`terms` is what a frequency is, `cleaning` and `grammar` take a text apart, `meaning` puts it together and asks
where it can be understood in two ways, `writing` says a frequency in words.
"""

from caseload.plans.frequency.meaning import read_frequency
from caseload.plans.frequency.terms import (
    EXAMPLES,
    LONGEST_SESSION,
    PARTS_OF_YEAR,
    SCHOOL_DAYS_A_WEEK,
    Frequency,
    FrequencyError,
    FrequencyQuestionError,
    FrequencyUnit,
    session_lengths,
)
from caseload.plans.frequency.writing import reading_words, things_words, write_frequency

__all__ = [
    "EXAMPLES",
    "LONGEST_SESSION",
    "PARTS_OF_YEAR",
    "SCHOOL_DAYS_A_WEEK",
    "Frequency",
    "FrequencyError",
    "FrequencyQuestionError",
    "FrequencyUnit",
    "read_frequency",
    "reading_words",
    "session_lengths",
    "things_words",
    "write_frequency",
]
