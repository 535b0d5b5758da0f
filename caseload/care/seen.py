"""Whose supports, cautions and contacts were read in answering one request: noted where they are read.

Outside of `seen_collected` nothing is noted, as in a job or on a terminal.
"""

from caseload.plans.shown import StudentsNoted

_seen = StudentsNoted("care_seen")
seen_note = _seen.note
seen_collected = _seen.collected
