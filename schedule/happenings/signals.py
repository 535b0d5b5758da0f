"""Sent in the transaction in which something was said to have happened, or was taken back.

`sender` is `Happening`; `happening` the row; `was` and `now` what each session of its dates came to before and
after, by uid (`schedule.weeks.selectors.day_shapes.AsHeld`).
"""

from django.dispatch import Signal

happening_said = Signal()
happening_taken_back = Signal()
