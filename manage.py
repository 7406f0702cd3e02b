#!/usr/bin/env python3
"""Which command should Frondbook run?"""

from __future__ import annotations

import os
import sys


def main() -> None:
    """Run the command named on the command line."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "nursery.settings")
    # Matrices here are small: threads of the linear algebra cost more than they give.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    from django.conf import settings
    from django.core.exceptions import ImproperlyConfigured
    from django.core.management import execute_from_command_line

    try:
        settings.NURSERY_DATA  # noqa: B018 - reads all settings
    except ImproperlyConfigured as error:
        sys.exit(str(error))
    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
