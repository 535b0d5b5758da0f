"""Reads: `counting` works one teacher's figures out of ledgers, `shown` adds kept ones up for the page."""
