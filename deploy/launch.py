"""The serving process of deploy/up: options into settings, Django up, then deploy/serve.py."""

from __future__ import annotations

import os
import signal
import sys
from importlib import import_module
from types import FrameType

import django

from deploy import env, machine, options
from deploy.console import CannotStart


def main(arguments: list[str]) -> int:
    for request in (signal.SIGINT, signal.SIGTERM):
        signal.signal(request, stop_once)
    asked = options.parse(arguments)
    os.environ["DJANGO_SETTINGS_MODULE"] = "deploy.settings.embedded"
    os.environ["SQUISH_DATA"] = str(asked.data)
    os.environ["SQUISH_HOSTS"] = ",".join(machine.names_to_answer(asked.host))
    try:
        machine.claim_folder(asked.data)
        with machine.open_port(asked.host, asked.port) as port:
            django.setup()
            # It imports models, which only exist once Django is set up.
            import_module("deploy.serve").serve(asked, port)
    except (CannotStart, env.BadSetting) as refusal:
        print(refusal, file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("\nStopped before the service was up.")
        return 130
    return 0


def stop_once(number: int, frame: FrameType | None) -> None:
    """The first request to stop is heard; further ones must not cut the ending short."""
    for request in (signal.SIGINT, signal.SIGTERM):
        signal.signal(request, signal.SIG_IGN)
    raise KeyboardInterrupt


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
