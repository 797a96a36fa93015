"""When each port is open, round the crank, before the cut and after; TDC is at the top."""

from __future__ import annotations

import numpy as np
import plotly.graph_objects as go

from dashboards.figures.face import Face
from dashboards.figures.rows import PortOpening
from dashboards.figures.table import Table, table
from dashboards.figures.theme import ACCENT, INK, QUIET, new_figure, nothing_yet, plain

OUTER = 0.9
STEP = 0.24
APART = 0.07
WORD = 0.095


def port_timing_ring(ports: tuple[PortOpening, ...]) -> go.Figure:
    """One pair of arcs a port: dashed before, firm after, with the durations in words."""
    if not ports:
        return nothing_yet("No port heights recorded for this family")
    face = Face()
    face.dial(zero="0° TDC")
    for ring, port in enumerate(ports):
        _arcs(face, port, radius=OUTER - ring * STEP, in_legend=ring == 0)
    face.under(*(_duration(port) for port in ports))
    layout = face.axes((0, 1), (0, 1))
    return new_figure(face.traces, shapes=face.shapes, annotations=face.notes, **layout)


def port_timing_ring_table(ports: tuple[PortOpening, ...]) -> Table:
    """Opening, closing and duration of each port, crank degrees after top dead centre."""
    headings = (
        "Port",
        "Opens before, °",
        "Opens after, °",
        "Closes before, °",
        "Closes after, °",
        "Open for before, °",
        "Open for after, °",
    )
    return table(
        headings,
        (
            (
                port.port,
                *(
                    f"{deg:.1f}"
                    for deg in (
                        port.opens_before_deg,
                        port.opens_after_deg,
                        port.closes_before_deg,
                        port.closes_after_deg,
                        _length(port.opens_before_deg, port.closes_before_deg),
                        _length(port.opens_after_deg, port.closes_after_deg),
                    )
                ),
            )
            for port in ports
        ),
    )


def _length(opens_deg: float, closes_deg: float) -> float:
    """Crank degrees from opening to closing, turning clockwise."""
    return (closes_deg - opens_deg) % 360.0


def _duration(port: PortOpening) -> str:
    before = _length(port.opens_before_deg, port.closes_before_deg)
    after = _length(port.opens_after_deg, port.closes_after_deg)
    return f"{plain(port.port)} open {before:.1f}° → {after:.1f}°"


def _arcs(face: Face, port: PortOpening, *, radius: float, in_legend: bool) -> None:
    looks = (
        ("before the cut", radius, port.opens_before_deg, port.closes_before_deg, QUIET, 3, "dash"),
        (
            "after the cut",
            radius - APART,
            port.opens_after_deg,
            port.closes_after_deg,
            ACCENT,
            7,
            "solid",
        ),
    )
    for name, at, opens, closes, color, width, dash in looks:
        deg = opens + np.linspace(0.0, _length(opens, closes), 91)
        words = f"{plain(port.port)} {name}<br>opens {opens:.1f}°, closes {closes:.1f}° after TDC"
        face.add(
            deg,
            np.full(deg.size, at),
            line={"color": color, "width": width, "dash": dash},
            name=name,
            legendgroup=name,
            showlegend=in_legend,
            hovertext=[words] * deg.size,
        )
    middle = port.opens_after_deg + _length(port.opens_after_deg, port.closes_after_deg) / 2
    face.note(plain(port.port), middle, radius - APART - WORD, font={"color": INK})
