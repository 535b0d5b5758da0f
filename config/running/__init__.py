"""How the program runs on a server: its key, the web server, health, logs, figures, and a database that is away."""
