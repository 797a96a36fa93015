"""Kill -9 in a stream of writes: what was acknowledged is there after the restart, once."""

from __future__ import annotations

import http.client
import json
import os
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from deploy.bootstrap import PROJECT
from tests.deploy.test_up import free_port, service

WRITES = 90
KILL_AFTER = (30, 60)
POSITIONS = (0, 90, 180, 270)
Answer = tuple[dict[str, Any], str]


def length(value: str) -> dict[str, str]:
    return {"value": value, "unit": "mm"}


def token_for(folder: Path) -> str:
    made = subprocess.run(
        [sys.executable, "manage.py", "make_token", "ines", "stream"],
        cwd=PROJECT,
        env={
            **os.environ,
            "DJANGO_SETTINGS_MODULE": "deploy.settings.embedded",
            "SQUISH_DATA": str(folder),
        },
        capture_output=True,
        text=True,
        check=True,
    )
    return made.stdout.strip().splitlines()[-1]


@dataclass
class Bench:
    """A bench tool that keeps sending a write, under one key, until it is acknowledged."""

    address: str
    token: str = ""
    etag: str = ""
    sent_again: int = 0
    acknowledged: dict[str, str] = field(default_factory=dict)

    def post(self, path: str, body: dict[str, Any], *, key: str = "") -> Answer:
        headers = {"Authorization": f"Bearer {self.token}", "Content-Type": "application/json"}
        if self.etag:
            headers["If-Match"] = self.etag
        if key:
            headers["Idempotency-Key"] = key
        request = urllib.request.Request(
            f"{self.address}/api/v1/{path}",
            data=json.dumps(body).encode(),
            headers=headers,
            method="POST",
        )
        try:
            with urllib.request.urlopen(request, timeout=30) as answer:
                return json.load(answer), answer.headers.get("ETag", "")
        except urllib.error.HTTPError as refusal:
            raise AssertionError(refusal.read().decode()) from refusal

    def get(self, path: str) -> dict[str, Any]:
        request = urllib.request.Request(
            f"{self.address}/api/v1/{path}", headers={"Authorization": f"Bearer {self.token}"}
        )
        with urllib.request.urlopen(request, timeout=30) as answer:
            told: dict[str, Any] = json.load(answer)
            return told


def open_a_job(bench: Bench) -> tuple[int, int]:
    """A shop with one of everything, a job, and its as-found set: (job, set)."""
    lathe, _ = bench.post("lathes", {"name": "North lathe"})
    bench.post("edges", {"lathe": lathe["id"], "slot": "1", "name": "E1", "edge_radius_um": 20})
    gauge, _ = bench.post("gauges", {"name": "M1", "step": length("0.001")})
    family, _ = bench.post(
        "families",
        {
            "name": "Alder 46",
            **{
                name: length(value)
                for name, value in {
                    "bore": "43.2",
                    "stroke": "31.6",
                    "rod": "55.4",
                    "expected_gap": "1.02",
                    "target": "0.50",
                    "tol_minus": "0.05",
                    "tol_plus": "0.05",
                    "floor": "0.42",
                    "measuring_radius": "19.4",
                }.items()
            },
        },
    )
    cylinder, _ = bench.post("cylinders", {"family": family["id"], "serial": "A1"})
    job, bench.etag = bench.post("jobs", {"cylinder": cylinder["id"]})
    number = int(job["number"])
    told, bench.etag = bench.post(
        f"jobs/{number}/as-found",
        {
            "gauge": gauge["id"],
            "base_gasket": length("0.50"),
            "readings": [{"position_deg": at, "length": length("1.020")} for at in POSITIONS],
        },
    )
    return number, int(told["rounds"][0]["as_found"]["id"])


def reading(number: int) -> dict[str, Any]:
    """The stream's reading `number`, unlike any other in place and value."""
    return {
        "position_deg": POSITIONS[number % 4],
        "piece": 2 + (number // 4) % 50,
        "length": length(f"{1 + number / 1000:.3f}"),
    }


def send_until_acknowledged(bench: Bench, path: str, number: int, started: threading.Event) -> None:
    """Send once and, if the answer is lost, again with the same key when the service is back."""
    key = f"stream-{number}"
    while True:
        try:
            _, bench.etag = bench.post(path, {"readings": [reading(number)]}, key=key)
        except (OSError, http.client.HTTPException):
            bench.sent_again += 1
            assert started.wait(120), "the service did not come back"
            continue
        bench.acknowledged[key] = reading(number)["length"]["value"]
        return


def test_every_acknowledged_reading_is_there_once(tmp_path: Path) -> None:
    folder, said = tmp_path / "shop", tmp_path / "said"
    port = free_port()
    bench = Bench(f"http://127.0.0.1:{port}")
    up, done = threading.Event(), threading.Event()

    def keep_serving() -> None:
        """Serve, kill without warning after each of KILL_AFTER acknowledgements, serve again."""
        for start, kill_after in enumerate((*KILL_AFTER, None)):
            first = () if start else ("--empty", "--lead", "ines")
            with service(folder, *first, said=said, port=port) as (process, _):
                up.set()
                while not done.is_set():
                    if kill_after is not None and len(bench.acknowledged) >= kill_after:
                        up.clear()
                        process.kill()
                        process.wait()
                        break
                    time.sleep(0.01)

    serving = threading.Thread(target=keep_serving)
    serving.start()
    try:
        assert up.wait(120)
        bench.token = token_for(folder)
        job, set_id = open_a_job(bench)
        path = f"jobs/{job}/reading-sets/{set_id}/readings"
        for number in range(WRITES):
            send_until_acknowledged(bench, path, number, up)
        standing = Counter(
            (one["position_deg"], one["piece"], one["length"]["value"])
            for one in bench.get(f"jobs/{job}")["rounds"][0]["as_found"]["readings"]
            if one["piece"] > 1
        )
    finally:
        done.set()
        serving.join(timeout=60)
    assert len(bench.acknowledged) == WRITES
    assert bench.sent_again >= len(KILL_AFTER), "no write was ever in flight at a kill"
    assert len(standing) == WRITES
    assert set(standing.values()) == {1}
