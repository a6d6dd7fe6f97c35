"""Property tests search anew on a contributor's machine; where CI is set they repeat the same examples."""

import os

from hypothesis import settings

settings.register_profile("repeatable", derandomize=True)
if os.environ.get("CI"):
    settings.load_profile("repeatable")
