"""The real settings, with a password hash that takes no time and no worker thread of its own."""

from config.settings import *  # noqa: F403 -- tests run on the project's settings, not on a copy of them

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
WEB_STARTS_WORKER = False
# Styles and scripts are looked for when one is asked for: every new client of a test listed them all.
WHITENOISE_AUTOREFRESH = True
# The same in every process of a run, whatever lies in var/.
SECRET_KEY = "a-key-of-the-tests-alone-0123456789-abcdefghijklmnopqrstuvwxyz"
