"""The minutes ledger: owed, delivered, missed, made up, still owed, and how it is likely to end. Pure."""
