"""The product's settings with a throw-away data folder; set before they are read."""

import os
import tempfile

os.environ.setdefault("SURVEY_DATA", tempfile.mkdtemp(prefix="second-summer-tests-"))
os.environ.setdefault("SURVEY_SECRET_KEY", "a secret for tests alone, long enough for every check")
os.environ.setdefault("SURVEY_HOSTS", "testserver")
os.environ.setdefault("SURVEY_HTTPS", "false")

from survey.settings import *  # noqa: F403

ALLOWED_HOSTS = ["testserver", "localhost", "127.0.0.1"]
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
CACHES = {"default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}}
WHITENOISE_AUTOREFRESH = True
LOGGING["root"]["handlers"] = []  # noqa: F405
LOGGING["handlers"] = {}  # noqa: F405
if not DATABASE_URL:  # noqa: F405
    # A file, as in use: a database in memory is shared in another way and knows no waiting.
    DATABASES["default"]["TEST"] = {"NAME": DATA / "test.sqlite3"}  # noqa: F405
