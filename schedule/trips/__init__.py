"""A teacher's month of trips and the voucher, and the map of a week's drives."""
