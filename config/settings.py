"""Settings: embedded defaults on a laptop, environment variables on a server.

`DATABASE_URL` chooses PostgreSQL instead of the embedded SQLite file, `REDIS_URL` sends background work
through Celery instead of the thread in the process; docs/running.md lists all of them. Everything else has one
value for everybody.
"""

from pathlib import Path
from typing import Any

import environ
from django.utils.csp import CSP

from accounts.own_files import OwnersDatabase
from config.running.secret_key import own_key

BASE_DIR = Path(__file__).resolve().parent.parent
env = environ.Env()
# What the program makes and keeps: the embedded database, its keys, prepared roads.
VAR_DIR = Path(env.str("VAR_DIR", default=str(BASE_DIR / "var")))
VAR_DIR.mkdir(parents=True, exist_ok=True)

DEBUG = env.bool("DEBUG", default=False)
SECRET_KEY_FILE = Path(env.str("SECRET_KEY_FILE", default=str(VAR_DIR / "secret-key")))
SECRET_KEY = env.str("SECRET_KEY", default="") or own_key(SECRET_KEY_FILE)
ALLOWED_HOSTS = env.list("ALLOWED_HOSTS", default=["localhost", "127.0.0.1", "[::1]"])
CSRF_TRUSTED_ORIGINS = env.list("CSRF_TRUSTED_ORIGINS", default=[])

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.contrib.humanize",
    "django.forms",
    "axes",
    "rules",
    "rest_framework",
    "drf_spectacular",
    "django_filters",
    "accounts",
    "jobs",
    "travel",
    "caseload",
    "schedule",
    "config",
]

MIDDLEWARE = [
    # Outside of all others, so that every answer has its line and its id.
    "config.running.request_log.RequestLogMiddleware",
    "django.middleware.security.SecurityMiddleware",
    "config.packing.PackedFilesMiddleware",
    "config.packing.PackedPagesMiddleware",
    "config.browser_features.BrowserFeaturesMiddleware",
    "config.problems.ProblemMiddleware",
    # Before anything of a request is looked at that came over an open line.
    "config.running.open_line.OpenLineMiddleware",
    "config.packing.PackedBodiesMiddleware",
    "django.middleware.csp.ContentSecurityPolicyMiddleware",
    # Outside of all that asks the database.
    "config.running.steady.SteadyMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    # In which of their roles somebody works.
    "accounts.roles.middleware.RoleMiddleware",
    # A program with a token is somebody from here on, as if signed in.
    "accounts.tokens.middleware.TokenMiddleware",
    # Before a session is asked for: one whose link has ended is told so, and not asked for a password.
    "accounts.sign_in.by_link.LinkMiddleware",
    # Before a page asks for a sign-in: whoever wasn't there for too long is asked for one.
    "accounts.sign_in.staying.StayingMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "config.phone.middleware.KeptPageMiddleware",
    "accounts.sign_in.middleware.OwnPasswordMiddleware",
    "accounts.district.middleware.DistrictTimeMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "config.error_pages.ApplicationErrorMiddleware",
    # With whom somebody shares a caseload, where the page is one that teams open.
    "caseload.teams.middleware.TeamMiddleware",
    # Before a file's content is looked at, be it for the key of its sending.
    "config.running.scanning.ScanMiddleware",
    # After all that turns a request away before its view: what never arrived isn't taken.
    "accounts.idempotency.middleware.IdempotencyMiddleware",
    # Inside of what makes an answer of an error, so that only what was shown counts.
    "caseload.access.watching.AccessMiddleware",
    "axes.middleware.AxesMiddleware",
]

ROOT_URLCONF = "config.urls"
# Form fields come out of config/templates/django/forms, the same on every page.
FORM_RENDERER = "django.forms.renderers.TemplatesSetting"
WSGI_APPLICATION = "config.wsgi.application"
ASGI_APPLICATION = "config.asgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "config" / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.template.context_processors.csp",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "caseload.context_processors.student_names",
            ],
        },
    },
]

DATABASES = {"default": env.db("DATABASE_URL", default=f"sqlite:///{VAR_DIR / 'minutes-and-miles.sqlite3'}")}
# Opening SQLite for each request and closing it again, which folds in the write-ahead log, is what a small answer
# spends most of its time on (docs/feeds.md).
DATABASES["default"]["CONN_MAX_AGE"] = 60
# How long a request waits for a database that is away, where asking again is safe (config.running.steady).
DATABASE_WAIT_SECONDS = env.float("DATABASE_WAIT_SECONDS", default=8.0)
DATABASES["default"]["CONN_HEALTH_CHECKS"] = DATABASES["default"]["ENGINE"] != "django.db.backends.sqlite3"
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    # IMMEDIATE takes the write lock at BEGIN, so that a read followed by a write never fails as "locked".
    DATABASES["default"]["OPTIONS"] = {
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        "factory": OwnersDatabase,
        "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL; PRAGMA foreign_keys=ON;",
    }
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "accounts.Person"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "rules.permissions.ObjectPermissionBackend",
    "accounts.sign_in.backends.PasswordBackend",
    "accounts.sign_in.backends.ProviderBackend",
    "schedule.packet.backends.LinkBackend",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "accounts.people.local_words.LocalWordsValidator"},
]
LOGIN_URL = "sign_in"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "sign_in"
# How many wrong tries are taken, and by what they are counted: accounts.sign_in.limits.
AXES_HANDLER = "accounts.sign_in.trying.LimitHandler"
AXES_LOCKOUT_CALLABLE = "accounts.sign_in.trying.locked_page"
AXES_RESET_COOL_OFF_ON_FAILURE_DURING_LOCKOUT = False
PASSWORD_RESET_TIMEOUT = 24 * 3600  # seconds, of a link that is mailed
AXES_ENABLE_ADMIN = False
AXES_VERBOSE = False  # no banner on each command

# A provider of the district's own that signs people in (OpenID Connect), none without an issuer; which claim names
# somebody by which of our fields, and which values of amr or acr tell of a second factor: docs/running.md.
OIDC_ISSUER = env.str("OIDC_ISSUER", default="")
OIDC_CLIENT_ID = env.str("OIDC_CLIENT_ID", default="")
OIDC_CLIENT_SECRET = env.str("OIDC_CLIENT_SECRET", default="")
OIDC_LABEL = env.str("OIDC_LABEL", default="your district account")
OIDC_SCOPES = env.str("OIDC_SCOPES", default="openid email")
OIDC_CLAIM = env.str("OIDC_CLAIM", default="email")
OIDC_FIELD = env.str("OIDC_FIELD", default="email")
OIDC_DISTRICT = env.str("OIDC_DISTRICT", default="")
OIDC_SECOND_STEP = env.list("OIDC_SECOND_STEP", default=[])
OIDC_PASSWORDS = env.bool("OIDC_PASSWORDS", default=True)

LANGUAGE_CODE = "en-us"
USE_TZ = True
TIME_ZONE = "UTC"

STATIC_URL = "static/"
STATIC_ROOT = VAR_DIR / "static"
STATIC_ROOT.mkdir(exist_ok=True)
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "config.phone.shell.VersionedStorage"},
}
# The scripts serve without a collectstatic step.
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = DEBUG
WHITENOISE_MIMETYPES = {".webmanifest": "application/manifest+json"}

# Uploads: one file at most 5 MB (schedule.imports refuses more), the request a little above it.
DATA_UPLOAD_MAX_MEMORY_SIZE = 6 * 1024 * 1024
FILE_UPLOAD_MAX_MEMORY_SIZE = 6 * 1024 * 1024

SECURE_CSP = {
    "default-src": [CSP.SELF],
    "img-src": [CSP.SELF, "data:"],
    "script-src": [CSP.SELF, CSP.NONCE],
    "style-src": [CSP.SELF, CSP.NONCE],
    "object-src": [CSP.NONE],
    "base-uri": [CSP.NONE],
    "frame-ancestors": [CSP.NONE],
    "form-action": [CSP.SELF],
}
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
SESSION_ENGINE = "accounts.sign_in.session_store"
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SECURE = env.bool("HTTPS_ONLY", default=False)
# Such a cookie comes from this very host over HTTPS and holds for all of it (RFC 6265bis, 4.1.3.2).
host_alone = "__Host-" if SESSION_COOKIE_SECURE else ""
SESSION_COOKIE_NAME = host_alone + "sessionid"
CSRF_COOKIE_NAME = host_alone + "csrftoken"
CSRF_COOKIE_SECURE = SESSION_COOKIE_SECURE
SECURE_SSL_REDIRECT = SESSION_COOKIE_SECURE
SECURE_REDIRECT_EXEMPT = [r"^api/", r"^metrics/", r"^sign-in/provider/ended/"]  # refused: config.running.open_line
# For a year a browser asks this host by HTTPS alone (RFC 6797). What other hosts of the domain do is theirs.
SECURE_HSTS_SECONDS = 365 * 24 * 3600 if SESSION_COOKIE_SECURE else 0
# So the program binds neither those nor the lists that browsers come with, whatever the check advises.
SILENCED_SYSTEM_CHECKS = ["security.W005", "security.W021"]
# Where `manage.py serve` listens, with how many threads, and whose X-Forwarded headers count (config.running).
WEB_LISTEN = env.str("WEB_LISTEN", default="127.0.0.1:8000")
WEB_THREADS = env.int("WEB_THREADS", default=8)
TRUSTED_PROXY = env.str("TRUSTED_PROXY", default="")
X_FRAME_OPTIONS = "DENY"
CSRF_FAILURE_VIEW = "config.error_pages.csrf_failure"

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": ["rest_framework.authentication.SessionAuthentication"],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["rest_framework.parsers.JSONParser"],
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "DEFAULT_FILTER_BACKENDS": ["django_filters.rest_framework.DjangoFilterBackend"],
    "EXCEPTION_HANDLER": "config.api_errors.handle",
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Minutes & Miles",
    "DESCRIPTION": "Everything that a page can do, through the same services.",
    "VERSION": "1",
    "SERVE_INCLUDE_SCHEMA": False,
    # The addresses' own kind of number (accounts.fields).
    "PATH_CONVERTER_OVERRIDES": {"id": {"type": "integer", "minimum": 1, "maximum": 2**63 - 1}},
    "SERVE_PERMISSIONS": ["rest_framework.permissions.IsAuthenticated"],
    "COMPONENT_SPLIT_REQUEST": True,
    "POSTPROCESSING_HOOKS": [
        "drf_spectacular.hooks.postprocess_schema_enums",
        "config.api_errors.describe_errors",
        "config.api_errors.describe_times",
        "accounts.idempotency.described.describe_keys",
    ],
    "ENUM_NAME_OVERRIDES": {
        "PersonRoleEnum": "accounts.models.person.Person.Role",
        "GradeEnum": "caseload.plans.grades.GRADE_CHOICES",
        "RecordsKindEnum": "caseload.retention.schedule.KIND_CHOICES",
        "DayKindEnum": "schedule.calendar.models.entries.CalendarEntry.Kind",
        "WordKindEnum": "schedule.calendar.models.entries.WordRule.Kind",
        "HappeningKindEnum": "schedule.calendar.happened.HappeningKind",
        "StudentsShownEnum": "schedule.notices.models.NameRule.Shown",
        "FeedKindEnum": "schedule.feeds.models.Feed.Kind",
        "ReportKindEnum": "schedule.telling.models.report.ProgressReport.Kind",
        "FamilyLanguageEnum": "schedule.telling.models.report.ProgressReport.Language",
        "ReasonEffectEnum": "caseload.delivery.models.rules.MissedReason.Effect",
        "DecisionEffectEnum": "caseload.delivery.models.delivery.TeamDecision.Effect",
        "MilesSourceEnum": "travel.mileage.chart.MilesSource",
        "PlanStatusEnum": "caseload.plans.models.plan.Plan.Status",
        "WeekStatusEnum": "schedule.weeks.models.weeks.WeekPlan.Status",
    },
}

# Drive times: prepared road extracts lie here; a server that speaks OSRM's or Valhalla's HTTP API is the other way.
ROADS_DIR = Path(env.str("ROADS_DIR", default=str(VAR_DIR / "roads")))
ROAD_SERVICE_URL = env.str("ROAD_SERVICE_URL", default="")
ROAD_SERVICE_KIND = env.str("ROAD_SERVICE_KIND", default="osrm")
# Which service finds the coordinates of an address: a name that geopy knows, such as nominatim. Empty: none. A
# district turns it on for itself. Options are those of geopy's class, as JSON.
GEOCODER = env.str("GEOCODER", default="")
GEOCODER_OPTIONS = env.json("GEOCODER_OPTIONS", default={})
GEOCODER_SECONDS_APART = env.float("GEOCODER_SECONDS_APART", default=1.0)

# Scheme and host under which people and calendars reach this site, such as https://plan.school.example. Empty:
# those of the request by which a feed was added.
SITE_ADDRESS = env.str("SITE_ADDRESS", default="")
# Mail is printed on the console unless a server is named.
MAILERS: dict[str, dict[str, Any]] = {"default": {"BACKEND": "django.core.mail.backends.console.EmailBackend"}}
if mail_host := env.str("MAIL_HOST", default=""):
    MAILERS["default"] = {
        "BACKEND": "django.core.mail.backends.smtp.EmailBackend",
        "OPTIONS": {
            "host": mail_host,
            "port": env.int("MAIL_PORT", default=587),
            "username": env.str("MAIL_USER", default=""),
            "password": env.str("MAIL_PASSWORD", default=""),
            "use_tls": env.bool("MAIL_TLS", default=True),
            "timeout": 20,
        },
    }
# By which this program says who it is to the push services of people's browsers; made when it is first needed.
PUSH_KEY_FILE = Path(env.str("PUSH_KEY_FILE", default=str(VAR_DIR / "push-key.pem")))
DEFAULT_FROM_EMAIL = env.str("DEFAULT_FROM_EMAIL", default="minutes-and-miles@localhost")

REDIS_URL = env.str("REDIS_URL", default="")
# Whether each web process starts a worker beside it for background work; tests and management commands start none.
WEB_STARTS_WORKER = env.bool("WEB_STARTS_WORKER", default=not REDIS_URL)
JOBS_LEASE_SECONDS = env.int("JOBS_LEASE_SECONDS", default=60)
# A handler that hangs keeps its lease no longer than this; a job that Celery lost is sent again after this.
JOBS_LONGEST_SECONDS = 840
JOBS_SEND_AGAIN_SECONDS = env.int("JOBS_SEND_AGAIN_SECONDS", default=30)
CELERY_BROKER_URL = REDIS_URL or None
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
# Well under the visibility timeout: a task that outlives it would run twice.
CELERY_TASK_TIME_LIMIT = 900
CELERY_TASK_SOFT_TIME_LIMIT = 840
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_BROKER_TRANSPORT_OPTIONS = {
    "visibility_timeout": 3600,
    # Without these two a killed worker's task came back after 96 s whatever the visibility timeout.
    "unacked_restore_interval": 2,
    "unacked_restore_throttle": 1,
    "socket_connect_timeout": 2,
    "socket_timeout": 10,
    # With Redis down a page would wait six seconds (kombu's default) before the job is left to the sweeper.
    "max_retries": 1,
    "interval_start": 0,
}
CELERY_BEAT_SCHEDULE = {
    "send stale jobs again": {"task": "jobs.tasks.send_stale_jobs", "schedule": 15.0},
    "ask for what is due": {"task": "jobs.tasks.ask_for_regular_work", "schedule": 60.0},
}

# The virus scanner that uploads go through, a ClamAV daemon (config.running.scanning); empty without one.
CLAMD_ADDRESS = env.str("CLAMD_ADDRESS", default="")
# Whoever brings it reads the figures of /metrics/; without one nobody does (config.running.figures).
METRICS_TOKEN = env.str("METRICS_TOKEN", default="")
# Addresses of calendar feeds and packets are secrets: neither logs nor error reports show them.
DEFAULT_EXCEPTION_REPORTER = "config.running.redaction.RedactingReporter"
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {
        "line": {"format": "{asctime} {levelname} {name} [{request_id}]: {message}", "style": "{"},
        "json": {
            "()": "pythonjsonlogger.json.JsonFormatter",
            "fmt": "{asctime} {levelname} {name} {request_id} {message}",
            "style": "{",
        },
    },
    "filters": {
        "requests": {"()": "config.running.logs.RequestIdFilter"},
        "addresses": {"()": "config.running.redaction.RedactingFilter"},
    },
    "handlers": {
        "console": {
            "class": "logging.StreamHandler",
            "formatter": env.str("LOG_FORMAT", default="line"),
            "filters": ["requests", "addresses"],
        }
    },
    "root": {"handlers": ["console"], "level": env.str("LOG_LEVEL", default="INFO")},
    # The first two tell each step of each PDF file; the others tell addresses of calendars, which may be secret,
    # and what a sign-in at a provider is made of.
    "loggers": {name: {"level": "WARNING"} for name in ("weasyprint", "fontTools", "urllib3", "authlib")},
}
