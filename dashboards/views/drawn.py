"""A drawing as the page's script fetches it."""

from __future__ import annotations

import plotly.graph_objects as go
from django.http import HttpResponse


def drawn(figure: go.Figure) -> HttpResponse:
    return HttpResponse(figure.to_json(), content_type="application/json")
