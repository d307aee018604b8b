"""Run as ``python3 deploy/bootstrap demo`` (or test, lint, bench).

This file alone is read by a Python of any age, so that one that is too old can
look for a newer one or say what is missing.
"""

import os
import shutil
import sys

OLDEST = (3, 11)


def _change_to_newer_python():
    # type: () -> None
    for minor in range(19, OLDEST[1] - 1, -1):
        newer = shutil.which("python3.%d" % minor)  # noqa: UP031
        if newer:
            os.execv(newer, [newer] + sys.argv)  # noqa: S606, RUF005
    sys.exit(
        "Python 3.11 or newer is needed; %s is %d.%d and no python3.11 to python3.19 is on the PATH.\n"  # noqa: UP031
        "Install one (Debian 12 and newer, Ubuntu 24.04 and newer: apt install python3 python3-venv), "
        "then run the command again." % (sys.executable, sys.version_info[0], sys.version_info[1])
    )


if sys.version_info < OLDEST:
    _change_to_newer_python()

# Python puts the folder that it was told to run first; the imports start one level above deploy/.
sys.path[0] = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))  # noqa: PTH100, PTH120

from deploy.bootstrap.commands import main  # noqa: E402

sys.exit(main(sys.argv[1:]))
