"""A second ledger that was written from docs/minutes-ledger.md alone, and random lives of services that both count.

`life` says what happened, `second_ledger` counts it day by day, `chance` makes lives up, `core` hands one to the
program's ledger, `smaller` cuts a life on which the two differ to its least. Nothing here but `core` knows
`caseload.ledger`.
"""
