"""What deploy/up can be asked for."""

from __future__ import annotations

import argparse
from pathlib import Path

from deploy.bootstrap import PROJECT

EVERYWHERE = "0.0.0.0"
THIS_MACHINE = "127.0.0.1"


def parse(arguments: list[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="deploy/up", description="Start Squish Ledger on this machine."
    )
    parser.add_argument(
        "--data",
        type=Path,
        default=PROJECT / ".data",
        metavar="DIR",
        help="the folder that keeps the records (default: .data in the project)",
    )
    parser.add_argument("--port", type=port, default=8000, metavar="N", help="default: 8000")
    where = parser.add_mutually_exclusive_group()
    where.add_argument(
        "--host", default=THIS_MACHINE, help=f"address to listen on (default: {THIS_MACHINE})"
    )
    where.add_argument(
        "--lan",
        dest="host",
        action="store_const",
        const=EVERYWHERE,
        help="let tablets on the local network in; the traffic is not encrypted",
    )
    parser.add_argument(
        "--empty", action="store_true", help="start a real shop, without the demo shop"
    )
    parser.add_argument(
        "--lead",
        metavar="NAME",
        help="with --empty: the first lead's sign-in name, with the password in "
        "SQUISH_LEAD_PASSWORD, where there is no terminal to ask on",
    )
    options = parser.parse_args(arguments)
    if options.lead and not options.empty:
        parser.error("--lead names the first lead of a real shop: give --empty too.")
    options.data = options.data.resolve()
    return options


def port(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= 65535:
        raise argparse.ArgumentTypeError(f"{text}: want a port from 1 to 65535")
    return int(text)
