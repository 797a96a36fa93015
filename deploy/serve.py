"""The embedded service: web server and outbox worker in one process, until asked to stop.

The only place that starts the outbox thread, so no other command ever works on the rows unasked.
"""

from __future__ import annotations

from argparse import Namespace
from datetime import timedelta
from socket import socket

from django.core.wsgi import get_wsgi_application
from django.urls import get_resolver
from django.utils import timezone
from waitress import create_server

from api.retry import forget_before
from deploy import first_start, machine, static_files
from deploy.console import say
from deploy.options import THIS_MACHINE
from qc import outbox

WEB_THREADS = 8
KEEP_REPLIES = timedelta(days=30)  # A bench tool that lost an answer asks again within hours.
NOT_ENCRYPTED = (
    "The traffic is not encrypted: anyone on this network can read it. Use a network you trust."
)


def serve(asked: Namespace, port: socket) -> None:
    """Bring database, shop and static files up to date, then answer until Ctrl-C or SIGTERM."""
    first_start.migrate()
    first_start.furnish(asked)
    static_files.gather()
    forget_before(timezone.now() - KEEP_REPLIES)
    server = create_server(get_wsgi_application(), sockets=[port], threads=WEB_THREADS)
    # The pages' modules load with the first address asked for; better now than under a finger.
    _ = get_resolver().url_patterns
    worker = outbox.start_thread()
    try:
        announce(asked)
        server.run()
        print("\nStopping: what is in hand is finished first.", flush=True)
    finally:
        worker.stop()
    print("Stopped.", flush=True)


def announce(asked: Namespace) -> None:
    tablets = machine.addresses_for_tablets(asked.host)
    if asked.host not in tablets:
        say("address", machine.url(THIS_MACHINE, asked.port))
    for address in tablets:
        say("tablet", machine.url(address, asked.port))
    if tablets:
        say("", NOT_ENCRYPTED)
    for line in first_start.demo_lines(asked.data):
        say("demo", line)
    say("to stop", "Ctrl-C")
