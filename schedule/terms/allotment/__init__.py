"""How many sessions each week of a term holds of what is owed by longer periods, and what room stays. Pure.

`question` is what is asked, `model` the integer program, `solve` decides, `words` and `lines` say it.
"""
