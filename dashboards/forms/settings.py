"""The shop's own choices. Each change is a new row with its reason; none is ever overwritten."""

from __future__ import annotations

from typing import Any

from dashboards.forms.bench import why_field
from dashboards.forms.columns import Column, ColumnsForm, Group
from qc.models import ShopPolicy

SAYS = "Whose limit it is, as the plan's warning shall say it."


class SettingsForm(ColumnsForm):
    """`row` is the policy in force when the page was opened; its key stands for its version."""

    model = ShopPolicy
    groups = (
        Group(
            "The shop",
            "",
            (
                Column("shop_name", "Name"),
                Column("time_zone", "Time zone", "Written like Europe/Dublin."),
                Column("unit", "Unit before anyone signs in"),
            ),
        ),
        Group(
            "Judging a job",
            "A job copies the evenness limit when it opens. The guard factor keeps that many "
            "standard uncertainties clear of each limit before a verdict says accept or reject.",
            (
                Column(
                    "evenness_limit_mm",
                    "Evenness limit",
                    "The greatest side-to-side difference allowed.",
                ),
                Column(
                    "guard_factor",
                    "Guard factor",
                    "1.645 holds a wrong accept under 5 % at each limit (JCGM 106).",
                ),
            ),
        ),
        Group(
            "At the bench",
            "",
            (
                Column(
                    "overdue_gauge_is_refused",
                    "Refuse readings from a gauge past its calibration",
                    "Otherwise they are taken and marked.",
                ),
                Column(
                    "indicating_is_required", "Ask for indicating before touch-off, or a reason"
                ),
                Column("indicating_limit_mm", "Allowed total runout of the fixture"),
                Column(
                    "dial_step_mm",
                    "One step of the dial",
                    "Of the dial used for indicating, where no gauge is named.",
                ),
                Column("rough_max_mm", "Deepest roughing pass"),
                Column("finish_mm", "Finishing pass"),
                Column("smallest_chip_mm", "Smallest chip before an edge is chosen"),
                Column("chip_ratio", "Smallest chip over edge radius"),
                Column("surface_speed_m_min", "Surface speed, m/min"),
                Column(
                    "spindle_most_rpm",
                    "Fastest spindle, rpm",
                    "Never above what chuck, fixture and an unbalanced cylinder allow.",
                ),
                Column("finish_feed_mm", "Finishing feed a turn"),
            ),
        ),
        Group(
            "Uncertainty of a gap",
            "Standard uncertainties that every result counts in, beside the gauge's own.",
            (
                Column("repeat_sd_mm", "Repeats at one position, standard deviation"),
                Column("gasket_u_mm", "Compressed gasket"),
                Column("torque_u_mm", "Bolt torque"),
                Column("float_u_mm", "Bearing play while crushing"),
            ),
            is_folded=True,
        ),
        Group(
            "From the fixture's tilt to the gap",
            "How much of an indicated tilt shows in the gap, 0 to 1, as this shop has measured it. "
            "Empty: not known, and a tilt is told as its upper bound.",
            (
                Column("carry_through", "Share that shows"),
                Column("carry_through_u", "Its standard uncertainty"),
            ),
            is_folded=True,
        ),
        Group(
            "Suggested dial correction",
            "What the plan may suggest from a lathe's and an edge's own height errors. Correcting "
            "for noise makes the scatter worse: nothing is suggested inside the dead band.",
            (
                Column("correction_dead_band_mm", "Dead band"),
                Column("correction_most_mm", "Never more than"),
                Column("correction_step_mm", "Rounded to"),
                Column("correction_fewest_jobs", "Fewest jobs before any"),
            ),
            is_folded=True,
        ),
        Group(
            "Charts and flags",
            "How many false flags a season all the shop's things together may raise, and as many "
            "for each chart of errors: fewer false ones means real ones come later.",
            (
                Column("false_flags_per_season", "False flags a season"),
                Column(
                    "season_jobs",
                    "Jobs a season",
                    "Flags go by the jobs the shop really does, and by this while they are few.",
                ),
                Column("season_months", "Months a season"),
                Column("charts_by", "What decides a chart's signals"),
                Column("ewma_weight", "Newest job's weight in the running average"),
                Column("cusum_k", "Allowance of the cumulative sums, in sigma"),
                Column("cusum_has_head_start", "Start the cumulative sums half way to their limit"),
                Column(
                    "rule_set",
                    "Patterns that signal too",
                    "The settings page tells what each costs in false signals.",
                ),
            ),
            is_folded=True,
        ),
        Group(
            "What a moved thing costs",
            "What running on costs is told beside what putting it right costs, on a flag's page.",
            (
                Column("reindicating_minutes", "Re-indicating a fixture, minutes"),
                Column("edge_minutes", "Fitting a fresh edge and touching it off, minutes"),
                Column("gauge_minutes", "Checking a gauge on a standard and setting it, minutes"),
                Column("lathe_minutes", "Going over a lathe's dial, stop and play, minutes"),
                Column(
                    "miss_in_reindications",
                    "A job that misses, in re-indications",
                    "3: as much as three times re-indicating. From 10 on a miss counts as dear.",
                ),
            ),
            is_folded=True,
        ),
        Group(
            "Limits a plan warns about",
            "Empty means no warning. They warn; they never replace the maker's limits.",
            (
                Column("velocity_limit_m_s", "Squish velocity, m/s"),
                Column("velocity_limit_says", "Squish velocity: whose limit", SAYS),
                Column("running_gap_limit_mm", "Gap left at speed"),
                Column("running_gap_limit_says", "Gap left at speed: whose limit", SAYS),
                Column("exhaust_later_limit_deg", "Exhaust opens later by, degrees"),
                Column("exhaust_later_limit_says", "Exhaust opens later: whose limit", SAYS),
                Column("trapped_ratio_limit", "Trapped compression ratio"),
                Column("trapped_ratio_limit_says", "Trapped ratio: whose limit", SAYS),
            ),
            is_folded=True,
        ),
    )
    why = why_field("Why is it changed?", required=True)

    @classmethod
    def version_of(cls, row: Any) -> int:
        return int(row.pk or 0)


LABELS = {column.name: column.label for column in SettingsForm.all_columns()}
