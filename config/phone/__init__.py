"""The program on a phone: the worker that answers without signal, and what it takes along."""
