#!/usr/bin/env python
"""Run a management command; `manage.py demo` needs no environment at all."""

import os
import sys


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "results.site.settings")
    if "demo" in sys.argv[1:2]:
        # The demo has to run on a machine where nobody has set anything yet.
        os.environ.setdefault("DEMO", "True")
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
