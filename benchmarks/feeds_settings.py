"""The project's settings with the benchmark's two bare views."""

from config.settings import *  # noqa: F403 -- the benchmark runs on the project's settings

ROOT_URLCONF = "benchmarks.feeds_site"
WEB_STARTS_WORKER = False
