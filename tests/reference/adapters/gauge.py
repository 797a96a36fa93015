from dataclasses import asdict

from qc.numerics.gauge_study import gauge_grid, gauge_study, range_study, reml_components


def answer(case):
    asked = case.inputs
    readings = gauge_grid(asked["y_part_op_trial"])
    if "K1" in asked:
        return by_range(range_study(readings, k1=asked["K1"], k2=asked["K2"], k3=asked["K3"]))
    study = gauge_study(readings)
    table = study.table_with_interaction
    by_source = dict(zip(table.sources, range(4), strict=True))
    f, p = table.f("interaction", "repeatability")
    reml = reml_components(readings)
    return {
        "SS": {s: table.ss[i] for s, i in by_source.items()} | {"total": table.ss_total},
        "df": {s: table.df[i] for s, i in by_source.items()},
        "MS": {s: table.ms[i] for s, i in by_source.items()},
        "F_interaction": f,
        "p_interaction": p,
        "raw_components_unclipped": {s: table.components[i] for s, i in by_source.items()},
        "with_interaction": summary(study.with_interaction),
        "pooled": summary(study.pooled),
        "F_vs_interaction": {s: table.f(s, "interaction")[0] for s in ("part", "operator")},
        "recommended": study.recommended.replace(" ", "_"),
        "reml": {
            "part:op": reml.interaction,
            "part": reml.part,
            "op": reml.operator,
            "Residual": reml.repeatability,
        },
    }


def summary(found):
    shares = {
        "repeatability": found.repeatability,
        "reproducibility": found.reproducibility,
        "grr": found.grr,
        "part": found.part,
    }
    return {
        "var": asdict(found),
        "var_reproducibility": found.reproducibility,
        "var_grr": found.grr,
        "var_total": found.total,
        "pct_study": {s: 100 * found.share_of_study(value) for s, value in shares.items()},
        "pct_contribution_grr": 100 * found.grr / found.total,
        "ndc_raw": found.classes,
        "ndc": int(found.classes),
    }


def by_range(found):
    return {
        "r_bar": found.mean_range,
        "x_diff": found.operator_range,
        "Rp": found.part_range,
        "EV": found.repeatability,
        "AV": found.reproducibility,
        "GRR": found.grr,
        "PV": found.part,
        "TV": found.total,
        "ndc": found.classes,
    }
