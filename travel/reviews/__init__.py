"""Who reviews which buildings, for which dates, and for how long: given by the coordinator, taken back."""
