"""What the floors above are told of, within the transaction that wrote it."""

from django.dispatch import Signal

log_written = Signal()
"""Versions of log entries were written; `session_uids` are the planned sessions that they are about."""
