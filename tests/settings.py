"""The settings of the tests: local mode, and a folder of their own for everything that is written."""

import atexit
import os
import shutil
import tempfile

VAR = tempfile.mkdtemp(prefix="bb-tests-")
atexit.register(shutil.rmtree, VAR, ignore_errors=True)
os.environ["BATTERBOARD_VAR"] = VAR
os.environ["BATTERBOARD_MODE"] = "local"
os.environ["BATTERBOARD_DEBUG"] = "0"
os.environ["ALLOWED_HOSTS"] = "localhost,127.0.0.1,testserver"
os.environ["SECRET_KEY"] = ""
# The browser's driver runs an event loop in the thread that also uses the database.
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"

from config.settings import *  # noqa: E402, F403
