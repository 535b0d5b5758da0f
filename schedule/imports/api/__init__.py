"""The API of imports and of calendars by address."""
