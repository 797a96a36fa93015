#!/usr/bin/env python3
"""Django's commands, on the settings of the checkout unless the environment names others."""

import os
import sys

from django.core.management import execute_from_command_line

if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "deploy.settings.dev")
    execute_from_command_line(sys.argv)
