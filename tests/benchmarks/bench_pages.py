"""What pages that look back cost after a long history, beside a short one.

Run from the project's folder: python -m tests.benchmarks.bench_pages [jobs]
A lead opens each page in SQLite after `jobs` finished jobs, which are copied straight into the
tables and learnt once, and after a tenth of them: queries, rows read, kilobytes of the answer, and
processor time. All jobs were cut on one lathe and fixture, which is the worst for their pages.
Seen on two shared cores under a load of 3, after 1000 and 10 000 jobs: /accuracy 733 and 745 rows,
ratio of times 1.55, for the months hold more jobs; /fixtures 6 rows, 1.10; a fixture's page 681 and
677 rows, 187 and 194 ms, 1.04; a lathe's 257 rows, 177 and 219 ms, 1.24; the chart designer 203
rows, 0.98. When pages still read every job, after 20 000: /accuracy 20 046 rows and 634 ms,
/fixtures 20 006 and 121 ms, a lathe's page 20 057 and 1.4 s, the fixture's 62 353 and 35 s.
"""

from __future__ import annotations

import sys
from collections.abc import Mapping
from functools import partial

from django.test import Client

from tests.benchmarks.bench_charts import processor_time
from tests.benchmarks.bench_learning import filled
from tests.dashboards.counting import cost_of

PAGES = (
    "accuracy",
    "accuracy/jobs",
    "accuracy/months",
    "accuracy/promise",
    "accuracy/designs",
    "charts",
    "fixtures",
    "fixtures/1",
    "fixtures/1/lanes.json",
    "shop/lathes/1",
    "shop/gauges/1",
    "jobs",
    "flags",
    "",
)


def after(jobs: int) -> Mapping[str, float]:
    """Seconds of each page."""
    with filled(jobs) as shop:
        lead = Client()
        lead.force_login(shop.lead.person)
        return {page: opened(lead, page, jobs) for page in PAGES}


def opened(lead: Client, page: str, jobs: int) -> float:
    address = f"/{page}"
    seconds = processor_time(partial(lead.get, address), rounds=3)
    queries, rows = cost_of(lead, address)
    size = len(lead.get(address).content) / 1024
    print(
        f"{address} after {jobs} jobs: {queries} queries, {rows} rows, {size:.0f} KB, "
        f"{seconds * 1e3:.0f} ms"
    )
    return seconds


def main(jobs: int) -> None:
    short, long = after(jobs // 10), after(jobs)
    for page in PAGES:
        print(f"/{page}, long history over short: {long[page] / short[page]:.2f}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 10_000)
