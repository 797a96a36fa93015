"""deploy/up: what stands in the way is said first, then the environment, then the service."""

from __future__ import annotations

import sys

from deploy import bootstrap, machine, options
from deploy.console import CannotStart


def main(arguments: list[str]) -> int:
    asked = options.parse(arguments)
    try:
        machine.claim_folder(asked.data)
        machine.open_port(asked.host, asked.port).close()
        print("Squish Ledger", flush=True)
        python = bootstrap.environment("requirements.txt")
        # The service starts in the project, so the folder goes along with its full path.
        return bootstrap.run([python, "-m", "deploy.launch", *arguments, f"--data={asked.data}"])
    except CannotStart as refusal:
        print(refusal, file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("\nStopped before the service was up.")
        return 130
