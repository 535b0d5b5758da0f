"""The project's settings with the benchmark's bare page, and no worker thread beside the pages."""

from config.settings import *  # noqa: F403 -- the benchmark runs on the project's settings

ROOT_URLCONF = "benchmarks.load_site"
WEB_STARTS_WORKER = False
