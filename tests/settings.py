"""Settings for the tests: the product's own, on a database and a folder that are thrown away."""

import atexit
import os
import shutil
import tempfile
from pathlib import Path

# Set before the product's settings are read, so that a test run touches no real data: neither
# the folder nor a database that the contributor's own environment names.
_folder = tempfile.mkdtemp(prefix="brewhygiene-tests-")
atexit.register(shutil.rmtree, _folder, ignore_errors=True)
os.environ["DATA_DIR"] = _folder
os.environ["DATABASE_URL"] = os.environ.get("TEST_DATABASE_URL", "")
os.environ["SECRET_KEY"] = "only-for-tests-and-long-enough-not-to-be-warned-about"
for _name in ("ALLOWED_HOSTS", "DEBUG", "HTTPS"):
    os.environ.pop(_name, None)

from brewhygiene.settings import *  # noqa: E402, F403
from brewhygiene.settings import DATA_DIR, DATABASES, STORAGES  # noqa: E402

SHOW_PARTS = True
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]

STORAGES["staticfiles"] = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
Path(DATA_DIR, "static").mkdir()

# The live server's threads come and go: a connection kept open would outlive the database.
DATABASES["default"]["CONN_MAX_AGE"] = 0
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    # A file rather than memory: the live server's threads then have connections of their own,
    # as in the brewery, instead of sharing one. Nothing has to survive a power cut.
    DATABASES["default"]["TEST"] = {"NAME": str(Path(DATA_DIR, "test.sqlite3"))}
    DATABASES["default"]["OPTIONS"]["init_command"] = (
        "PRAGMA journal_mode=WAL; PRAGMA synchronous=OFF; PRAGMA temp_store=MEMORY;"
    )
