"""The three channels as they start out, before a shop's own jobs have said more."""

from __future__ import annotations

from qc.numerics.drift.channel_settings import ChannelSettings, Kind, Shape

TILT = ChannelSettings(
    name="tilt",
    deltas=2,
    kinds=(Kind("fixture", sd=0.006, wanders=True), Kind("operator", sd=0.004, log_prior=-2.0)),
    shapes=(
        Shape(is_ramp=False, sd=0.018, share=0.60, every=1),
        Shape(is_ramp=True, sd=0.0012, share=0.35, every=8),
        # A knock far beyond the usual, which else would pass for one wild reading after another.
        Shape(is_ramp=False, sd=0.080, share=0.05, every=1, oldest=8),
    ),
    common_sd=0.012,
    engine_sd=0.015,
    walk_var=1e-7,
    log_offset=-0.85,
    set_holds=0.96,
)
HEIGHT = ChannelSettings(
    name="height",
    deltas=1,
    kinds=(
        Kind("lathe", sd=0.010),
        Kind("edge", sd=0.006, wanders=True),
        Kind("operator", sd=0.007, log_prior=-0.7),
        Kind("gauge", sd=0.006),
    ),
    shapes=(
        Shape(is_ramp=False, sd=0.020, share=0.70, every=1),
        Shape(is_ramp=True, sd=0.0012, share=0.25, every=8),
        # A knock far beyond the usual, which else would pass for one wild reading after another.
        Shape(is_ramp=False, sd=0.080, share=0.05, every=1, oldest=8),
    ),
    common_sd=0.030,
    engine_sd=None,
    walk_var=1e-7,
    log_offset=0.0,
    set_holds=0.93,
    set_by_jobs=True,
)
SPREAD = ChannelSettings(
    name="spread",
    deltas=1,
    kinds=(Kind("operator", sd=0.24), Kind("gauge", sd=0.24)),
    shapes=(
        Shape(is_ramp=False, sd=1.0, share=0.75, every=1),
        Shape(is_ramp=True, sd=0.06, share=0.25, every=8),
    ),
    common_sd=1.0,
    engine_sd=None,
    walk_var=0.0003,
    log_offset=0.1,
    set_holds=0.90,
)
CHANNELS = (TILT, HEIGHT, SPREAD)

# Noise, mm on a side-to-side difference and on a height.
READ_SD = 0.0102
OLD_FACE_SD = 0.008
HEIGHT_SD = 0.020
WEAR_A_JOB = 0.0002
