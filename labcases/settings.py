"""Every setting. Values that differ between labs come from the environment (see the table in README)."""

from __future__ import annotations

import secrets
import sys
import tempfile
from pathlib import Path
from urllib.parse import urlsplit

from labcases.env import Env, database

env = Env()
BASE_DIR = Path(__file__).resolve().parent.parent
DEBUG = env.yes("DEBUG")
DEMO = env.yes("DEMO")
TESTING = "pytest" in sys.modules

DATA_DIR = Path(env.text("DATA_DIR") or BASE_DIR / ".data").resolve()
if DEMO:
    DATA_DIR = DATA_DIR / "demo"  # a folder and a database of its own: --fresh can never touch a real lab
if TESTING:
    DATA_DIR = Path(tempfile.mkdtemp(prefix="labcases-tests-"))  # removed by tests/conftest.py
KEY_DIR = DATA_DIR / "keys"


def _own_secret(name: str) -> str:
    """A secret of this installation: made at first start, readable by its owner only."""
    path = KEY_DIR / name
    if not path.exists():
        KEY_DIR.mkdir(mode=0o700, parents=True, exist_ok=True)
        path.touch(mode=0o600)
        path.write_text(secrets.token_urlsafe(50), encoding="ascii")
    return path.read_text(encoding="ascii").strip()


SECRET_KEY = env.text("SECRET_KEY") or _own_secret("session-key")

LEDGER_KEY = env.text("LEDGER_KEY")  # empty: a key of this installation, made at first use in DATA_DIR/keys
SECRETS_KEY = env.text("SECRETS_KEY")  # likewise; closes the keys of cases
SECRETS_KEY_BEFORE = env.text("SECRETS_KEY_BEFORE")  # only while it is being replaced
DEFAULT_EXCEPTION_REPORTER_FILTER = "labcases.core.middleware.AlwaysHide"

SITE_URL = env.text("SITE_URL", "http://127.0.0.1:8000").rstrip("/")
_site = urlsplit(SITE_URL)
_behind_tls = _site.scheme == "https"
ALLOWED_HOSTS = [_site.hostname or "", "127.0.0.1", "localhost", "[::1]"]
CSRF_TRUSTED_ORIGINS = [f"{_site.scheme}://{_site.netloc}"]
FORCE_SCRIPT_NAME = _site.path or None
if env.yes("TRUST_PROXY"):
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")

_database_url = "" if DEMO else env.text("TEST_DATABASE_URL" if TESTING else "DATABASE_URL")
DATABASES = {"default": database(_database_url, DATA_DIR)}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.humanize",
    "django.contrib.staticfiles",
    "django.forms",
    "django_htmx",
    # rooms, from the ground up: each imports only rooms written before it
    "labcases.core",
    "labcases.lab",
    "labcases.paper",
    "labcases.custody",
    "labcases.people",
    "labcases.imports",
    "labcases.cases",
    "labcases.updates",
    "labcases.stock",
    "labcases.bench",
    "labcases.office",
    "labcases.handover",
    "labcases.docket",
    "labcases.api",
    "labcases.ops",
    "labcases.demo",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "labcases.core.middleware.ContentSecurityPolicy",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "labcases.core.middleware.KeepWhatWasTyped",
    "labcases.core.middleware.LogInRequired",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "labcases.lab.middleware.LabTime",
    "labcases.core.middleware.SayRefusals",
]

ROOT_URLCONF = "labcases.urls"
WSGI_APPLICATION = "labcases.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": False,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "labcases.lab.context_processors.lab",
                "labcases.custody.context_processors.ledger",
            ],
            "builtins": [
                "django.templatetags.static",
                "django_htmx.templatetags.django_htmx",
                "labcases.core.templatetags.ui",
            ],
            "loaders": [
                ("django.template.loaders.cached.Loader", ["django.template.loaders.filesystem.Loader"]),
                "django.template.loaders.app_directories.Loader",
            ],
        },
    }
]
FORM_RENDERER = "django.forms.renderers.TemplatesSetting"

AUTH_USER_MODEL = "lab.Staff"
LOGIN_URL = "lab:log-in"
LOGIN_REDIRECT_URL = "docket:home"
PASSWORD_HASHERS = ["django.contrib.auth.hashers.ScryptPasswordHasher"]
if TESTING:
    PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]  # tests log in hundreds of times
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator",
        "OPTIONS": {"user_attributes": ("login", "name")},  # Django's own names for them are not ours
    },
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 12}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]

SESSION_COOKIE_NAME = "labcases-session" if not DEMO else "labcases-demo-session"
CSRF_COOKIE_NAME = "labcases-csrf" if not DEMO else "labcases-demo-csrf"
SESSION_COOKIE_AGE = 12 * 3600
SESSION_SAVE_EVERY_REQUEST = False
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = _behind_tls
SESSION_COOKIE_SAMESITE = CSRF_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_HTTPONLY = True
CSRF_FAILURE_VIEW = "labcases.core.views.csrf_failure"
SECURE_HSTS_SECONDS = 31_536_000 if _behind_tls else 0
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
DATA_UPLOAD_MAX_NUMBER_FIELDS = 2000
DATA_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024
LARGEST_UPLOAD = 100_000_000  # bytes of one file, whatever page it is sent to; pages set lower limits of their own
FILE_UPLOAD_HANDLERS = [
    "labcases.core.middleware.NoFileWithoutEnd",
    "django.core.files.uploadhandler.MemoryFileUploadHandler",
    "django.core.files.uploadhandler.TemporaryFileUploadHandler",
]

LANGUAGE_CODE = "en-gb"
TIME_ZONE = "UTC"
USE_TZ = True
USE_I18N = True

STATIC_URL = "static/"
STATICFILES_DIRS = [BASE_DIR / "static"]
STATIC_ROOT = DATA_DIR / "static"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage", "OPTIONS": {"location": DATA_DIR / "files"}},
    "staticfiles": {
        "BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"
        if DEBUG or TESTING
        else "whitenoise.storage.CompressedManifestStaticFilesStorage"
    },
}
WHITENOISE_USE_FINDERS = DEBUG
WHITENOISE_MAX_AGE = 3600

EMAIL_BACKEND = "labcases.demo.mail_backends.Mailbox" if DEMO else "django.core.mail.backends.smtp.EmailBackend"
EMAIL_HOST = env.text("EMAIL_HOST")
EMAIL_PORT = env.number("EMAIL_PORT", 587)
EMAIL_HOST_USER = env.text("EMAIL_USER")
EMAIL_HOST_PASSWORD = env.text("EMAIL_PASSWORD")
_security = env.one_of("EMAIL_SECURITY", ("starttls", "ssl", "none"))
EMAIL_USE_TLS, EMAIL_USE_SSL = _security == "starttls", _security == "ssl"
EMAIL_TIMEOUT = 15
DEFAULT_FROM_EMAIL = env.text("EMAIL_FROM", "lab@localhost")

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "%(asctime)s %(levelname)s %(name)s %(message)s"}},
    "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": "line"}},
    "loggers": {"django.request": {"level": "ERROR"}},  # a mistyped address is no event of the lab
    "root": {"handlers": ["stderr"], "level": env.text("LOG_LEVEL", "WARNING").upper()},
}
