"""Invitations of many: who hasn't come in yet gets a link that works once and ends on a day that was chosen."""
