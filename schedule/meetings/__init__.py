"""Common meetings: one meeting of several teachers, said once, changed and taken back for all of them."""
