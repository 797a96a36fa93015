"""Put the drift sums through the simulator and print how they did, as Markdown.

    python -m tests.drift.report [--shops N] [--quick] [--processes K] [--only PART ...]

Shops are drawn from seeds of 40 000 000 and up, where the choosing looked at 1 000 000 to
29 999 999; REPORT.md says what was chosen after a look at these all the same.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterable, Sequence
from functools import partial
from itertools import product
from multiprocessing import Pool
from typing import Any

import numpy as np

from tests.drift.beside import left_alone, second_knock
from tests.drift.calibrating import ask, calibration
from tests.drift.closed_loop import CHARTS, POLICIES, Spent
from tests.drift.conditions import CONDITIONS, EARLY, ELSEWHERE, MOVES, PLAIN
from tests.drift.finding import Finding, false_flags, find, finding

FIRST_SEED = 40_000_000
OTHER_PACES = (60, 1000)
QUICK = 20

Map = Callable[[Callable[[int], Any], Iterable[int]], list[Any]]


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    print("| " + " | ".join(head) + " |")
    print("|---" * len(head) + "|")
    for row in rows:
        print("| " + " | ".join(row) + " |", flush=True)
    print()


def jobs_of(own: float) -> str:
    return "-" if np.isinf(own) else f"{own:.0f}"


def findings(over: Map, shops: int) -> None:
    print("## Moves found\n")
    print(
        "own: median / 90th percentile of jobs of the moved resource until it is flagged, '-'"
        " beyond 350 jobs of the shop. named: until a flag names it alone, at 80 % or more. P10,"
        " P20: flagged within 10 and 20 own jobs. any: shops in which the channel flagged anything"
        " after the move. Of those, first: the first flag is of what moved / and no other channel's"
        " was before it. wrong: of all shops, something else of the channel was flagged before."
        " set: the 90 % set of the first flag holds what moved; mean size. oracle: knows which"
        " resource, how far, which way, and all biases.\n"
    )
    rows = []
    for at, move in enumerate(MOVES):
        seeds = range(FIRST_SEED + at * 10_000, FIRST_SEED + at * 10_000 + shops)
        rows.append(finding(move, over(partial(find, move), seeds), rng=np.random.default_rng(at)))
    table(
        (
            *("move, mm", "own", "named", "oracle", "P10 / P20", "oracle", "any", "first"),
            *("wrong", "set", "size"),
        ),
        map(_finding_row, rows),
    )


def _finding_row(row: Finding) -> Sequence[str]:
    return (
        row.move,
        f"{jobs_of(row.median)} / {jobs_of(row.p90)}",
        f"{jobs_of(row.named_median)} / {jobs_of(row.named_p90)}",
        f"{jobs_of(row.oracle_median)} / {jobs_of(row.oracle_p90)}",
        f"{row.within_10:.2f} / {row.within_20:.2f}",
        f"{row.oracle_within_10:.2f} / {row.oracle_within_20:.2f}",
        f"{row.flagged:.2f}",
        f"{row.first_right:.2f} / {row.first_of_all_right:.2f}",
        f"{row.wrong:.2f}",
        f"{row.covered:.3f}",
        f"{row.set_size:.1f}",
    )


def elsewhere(over: Map, shops: int) -> None:
    print("## Moves found in other shops\n")
    print(
        "As above; early: the move comes at job 20 to 40 of a shop that has no history. set: with"
        " its standard error.\n"
    )
    asked = [(move, PLAIN, True) for move in EARLY]
    asked += [(move, condition, False) for move, condition in ELSEWHERE]
    rows = []
    for at, (move, condition, is_early) in enumerate(asked):
        first = FIRST_SEED + 600_000 + at * 10_000
        each = partial(find, move, condition=condition, is_early=is_early)
        found = finding(
            move, over(each, range(first, first + shops)), rng=np.random.default_rng(at)
        )
        rows.append(_elsewhere_row("early" if is_early else condition, found))
    table(
        ("move, mm", "shops", "own", "named", "P10 / P20", "any", "first", "set", "size"),
        rows,
    )


def _elsewhere_row(shops: str, row: Finding) -> Sequence[str]:
    return (
        row.move,
        shops,
        f"{jobs_of(row.median)} / {jobs_of(row.p90)}",
        f"{jobs_of(row.named_median)} / {jobs_of(row.named_p90)}",
        f"{row.within_10:.2f} / {row.within_20:.2f}",
        f"{row.flagged:.2f}",
        f"{row.first_right:.2f}",
        f"{row.covered:.3f} +- {row.covered_se:.3f}",
        f"{row.set_size:.1f}",
    )


def beside(over: Map, shops: int) -> None:
    print("## What moves while a flag is open\n")
    print(
        "Flags are held open and nothing is done. A fixture is knocked at job 120 to 170, another"
        " at job 230. own: jobs of the second until it is flagged. others: of the tilt channel,"
        " flags a year after the first right one where nothing else moves. Where a false flag"
        " already stands about the second fixture, or could well be about it, no other comes: that"
        " counts as not found.\n"
    )
    rows = []
    for at, (first_knock, size) in enumerate(product((0.0, 0.040, 0.080), (0.040, 0.020))):
        first = FIRST_SEED + 800_000 + at * 10_000
        seeds = range(first, first + shops)
        found = over(partial(second_knock, size, first_knock), seeds)
        own = np.array([one.own for one in found])
        middle = np.quantile(own, [0.5, 0.9], method="higher")
        right = np.mean([one.is_first_right for one in found])
        others = "-"
        if first_knock:
            extra, years = np.sum(over(partial(left_alone, first_knock), seeds), axis=0)
            others = f"{extra / years:.2f}"
        rows.append(
            (
                f"{first_knock:.3f}" if first_knock else "none",
                f"{size:.3f}",
                " / ".join(jobs_of(one) for one in middle),
                f"{(own <= 10).mean():.2f} / {(own <= 20).mean():.2f}",
                f"{right:.2f}",
                others,
            )
        )
    table(("first, mm", "second, mm", "own", "P10 / P20", "first right", "others"), rows)


def quiet_years(over: Map, shops: int) -> None:
    print("## False flags a year\n")
    print("Nothing moves; one false flag a year is wished. +-: standard error of the total.\n")
    rows = []
    asked = [(condition, 250) for condition in CONDITIONS]
    asked += [("plain", pace) for pace in OTHER_PACES]
    for at, (condition, pace) in enumerate(asked):
        first = FIRST_SEED + 200_000 + at * 10_000
        years = over(partial(false_flags, condition, jobs_a_year=pace), range(first, first + shops))
        each = np.array([(one.tilt, one.height, one.spread) for one in years])
        total = each.sum(axis=1)
        name = condition if pace == 250 else f"{condition}, {pace} jobs a year"
        error = f"{total.mean():.2f} +- {total.std() / np.sqrt(shops):.2f}"
        rows.append((name, *(f"{one:.2f}" for one in each.mean(axis=0)), error))
    table(("shops", "tilt", "height", "spread", "all"), rows)


def chances(over: Map, shops: int) -> None:
    print("## Chance that the next job misses evenness, 0.060\n")
    first = FIRST_SEED + 400_000
    got = calibration(over(ask, range(first, first + shops)), rng=np.random.default_rng(1))
    table(
        ("jobs", "stated", "by the true biases", "missed"),
        (
            (str(one.jobs), f"{one.stated:.3f}", f"{one.known:.3f}", f"{one.missed:.3f}")
            for one in got.bins
        ),
    )
    print(
        f"{got.jobs} jobs. Expected calibration error {got.error:.4f}. Brier score"
        f" {got.brier:.5f}; with each shop's own rate in hindsight {got.brier_shop_rate:.5f},"
        f" with the true biases {got.brier_known:.5f}: {got.attained:.0%} +-"
        f" {got.attained_se:.0%} of the gain to be had.\n"
    )


def costs(over: Map, shops: int) -> None:
    print("## What re-indicating by each rule costs\n")
    print(
        "400 jobs, one fixture knocked 0.020, 0.040 or 0.060 at job 40-120. Cost of 100 jobs, in"
        " re-indications, at a miss worth 3 and 10 of them, +- standard error; ratio: to the"
        " cheaper of the two charts, +- standard error over the same shops.\n"
    )
    first = FIRST_SEED + 500_000
    spent: dict[str, list[Spent]] = {
        name: over(policy, range(first, first + shops)) for name, policy in POLICIES.items()
    }
    table(
        ("rule", "misses /100", "re-indications /100", *_cost_head(3), *_cost_head(10)),
        (
            (
                name,
                f"{np.mean([one.misses for one in mine]) / 4:.2f}",
                f"{np.mean([one.reindications for one in mine]) / 4:.2f}",
                *_cost_of(name, spent, miss=3),
                *_cost_of(name, spent, miss=10),
            )
            for name, mine in spent.items()
        ),
    )


def _cost_head(miss: int) -> tuple[str, str]:
    return f"cost, miss = {miss}", "ratio"


def _cost_of(name: str, spent: dict[str, list[Spent]], *, miss: float) -> tuple[str, str]:
    cost = {rule: np.array([one.cost(miss=miss) for one in each]) for rule, each in spent.items()}
    chart = min((cost[rule] for rule in CHARTS), key=lambda each: float(each.mean()))
    mine, root = cost[name], np.sqrt(chart.size)
    ratio = mine.mean() / chart.mean()
    error = (mine - ratio * chart).std() / chart.mean() / root
    return f"{mine.mean():.2f} +- {mine.std() / root:.2f}", f"{ratio:.3f} +- {error:.3f}"


PARTS = {
    "moves": findings,
    "elsewhere": elsewhere,
    "open": beside,
    "false-flags": quiet_years,
    "chance": chances,
    "cost": costs,
}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--shops", type=int, default=300, help="shops a row")
    parser.add_argument("--quick", action="store_true", help=f"{QUICK} shops a row")
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--only", nargs="+", choices=PARTS, default=list(PARTS))
    asked = parser.parse_args()
    shops = QUICK if asked.quick else asked.shops
    print(f"# How the drift sums do on {shops} invented shops a row\n")
    with Pool(asked.processes) as pool:
        over = partial(pool.map, chunksize=4)
        for part in asked.only:
            PARTS[part](over, shops)


if __name__ == "__main__":
    main()
