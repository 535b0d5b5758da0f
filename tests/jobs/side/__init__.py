"""An app for the tests of background work: handlers and a command that run in processes of their own."""
