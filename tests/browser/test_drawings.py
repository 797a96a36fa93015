"""Drawings and forms in a real browser, under the content policy, at bench and phone width.

The `on_page` fixture fails a test in which the browser reports a breach of the policy.
"""

from __future__ import annotations

from types import SimpleNamespace

import pytest
from django.template import engines

from tests.browser.served import served
from tests.dashboards.drawings import DRAWINGS

pytestmark = [pytest.mark.browser, pytest.mark.urls("tests.dashboards.addresses")]

GROUND = """{% extends "dashboards/base.html" %}{% load static %}
{% block head %}{% include "dashboards/parts/drawing_head.html" %}
<script src="{% static 'dashboards/js/gauge_enter.js' %}" defer></script>{% endblock %}
{% block content %}BODY{% endblock %}"""

FIGURE = "key=d.key name=d.key url=d.url table=d.table shape=d.shape"
DRAWN = (
    '{% for d in drawings %}<div class="sheet">'
    '{% include "dashboards/parts/figure.html" with FIGURE %}</div>{% endfor %}'
).replace("FIGURE", FIGURE)

FORM = """<form data-gauge-form action="/sent">
<input id="first" name="first"><input id="skip" disabled><input type="checkbox" id="box">
<select id="second"><option>1</option></select><textarea id="words"></textarea>
<input id="last" name="last"><button id="send" type="submit">Save</button></form>"""


class Person:
    """Someone signed in, without a database."""

    is_authenticated = True

    def __str__(self) -> str:
        return "Noor Vale"


def page(body: str, **context: object) -> str:
    template = engines["django"].from_string(GROUND.replace("BODY", body))
    return template.render(
        {"user": Person(), "shop_name": "Fen & Vale", "section": "jobs", **context}
    )


@pytest.fixture(scope="module")
def figures():
    return {f"/{key}.json": d.draw(d.rows).to_json() for key, d in DRAWINGS.items()}


@pytest.fixture
def site(figures):
    drawings = [
        SimpleNamespace(key=key, url=f"/{key}.json", table=d.twin(d.rows), shape=d.shape)
        for key, d in DRAWINGS.items()
    ]
    lost = [SimpleNamespace(key="lost", url="/lost.json", table=drawings[0].table, shape="round")]
    pages = {
        "/": page(DRAWN, drawings=drawings),
        "/lost": page(DRAWN, drawings=lost),
        "/form": page(FORM),
        "/sent?first=&last=": page("sent"),
        **figures,
    }
    with served(pages) as address:
        yield address


def open_drawn(page, address, *, width=1280):
    page.set_viewport_size({"width": width, "height": 900})
    page.goto(address)
    for key in DRAWINGS:
        page.wait_for_selector(f"#{key} [data-done]", state="attached")


@pytest.mark.parametrize("width", [360, 1280])
def test_every_drawing_is_drawn_and_the_page_does_not_scroll_sideways(site, on_page, width):
    def look(page):
        open_drawn(page, site, width=width)
        done = page.eval_on_selector_all("[data-done]", "all => all.map(e => e.dataset.done)")
        empty = page.eval_on_selector_all(
            ".drawing-place", "all => all.filter(e => !e.querySelector('svg.main-svg path')).length"
        )
        return done, empty, page.evaluate("document.documentElement.scrollWidth")

    done, empty, wide = on_page(look)
    assert done == ["drawn"] * len(DRAWINGS)
    assert empty == 0
    assert wide <= width


@pytest.mark.parametrize("width", [360, 1280])
def test_no_words_are_cut_off_at_the_edge_of_a_drawing(site, on_page, width):
    def look(page):
        open_drawn(page, site, width=width)
        return page.evaluate("""() => {
            const cut = [];
            for (const place of document.querySelectorAll(".drawing-place")) {
                const box = place.getBoundingClientRect();
                for (const text of place.querySelectorAll("svg text")) {
                    const own = text.getBoundingClientRect();
                    if (own.width && (own.left < box.left - 1 || own.right > box.right + 1
                        || own.top < box.top - 1 || own.bottom > box.bottom + 1))
                        cut.push(place.closest("figure").id + ": " + text.textContent);
                }
            }
            return cut;
        }""")

    assert on_page(look) == []


def test_a_pair_of_faces_stacks_on_a_phone_and_parts_again(site, on_page):
    def tops(page):
        return page.eval_on_selector_all(
            "#gap .annotation-text",
            "all => all.map(e => [e.textContent, e.getBoundingClientRect().top])",
        )

    def stacked(page):
        top = {text: y for text, y in tops(page) if text in ("as found", "achieved")}
        return top["achieved"] - top["as found"]

    def settled(page, width):
        page.set_viewport_size({"width": width, "height": 900})
        for _ in range(100):
            if (stacked(page) > 100) == (width == 360):
                break
            page.wait_for_timeout(50)
        return stacked(page)

    def look(page):
        open_drawn(page, site)
        return stacked(page), settled(page, 360), settled(page, 1280)

    beside, below, again = on_page(look)
    assert abs(beside) < 2
    assert below > 150
    assert abs(again) < 2


def test_a_lost_drawing_says_so_and_opens_its_table(site, on_page):
    def look(page):
        page.goto(f"{site}/lost")
        page.wait_for_selector("#lost [data-done=failed]", state="attached")
        return page.inner_text("#lost .drawing-place"), page.is_visible("#lost table")

    sentence, is_open = on_page(look)
    assert sentence == "The drawing could not be fetched. The table below has the same numbers."
    assert is_open


def test_a_gauges_enter_walks_the_fields_and_stops_at_the_button(site, on_page):
    def walk(page):
        page.goto(f"{site}/form")
        page.focus("#first")
        stops = []
        for _ in range(3):
            page.keyboard.press("Enter")
            stops.append(page.evaluate("document.activeElement.id"))
        still_here = page.url
        page.keyboard.press("Enter")
        page.wait_for_url("**/sent*")
        return stops, still_here

    stops, still_here = on_page(walk)
    assert stops == ["second", "last", "send"]
    assert still_here.endswith("/form")


def test_enter_in_a_text_area_stays_a_new_line(site, on_page):
    def write(page):
        page.goto(f"{site}/form")
        page.focus("#words")
        page.keyboard.type("one\ntwo")
        return page.input_value("#words")

    assert on_page(write) == "one\ntwo"


def test_the_skip_link_is_first_and_leads_to_the_content(site, on_page):
    def walk(page):
        page.goto(f"{site}/form")
        page.keyboard.press("Tab")
        first = page.evaluate("document.activeElement.textContent")
        page.keyboard.press("Enter")
        return first, page.evaluate("document.activeElement.id")

    assert on_page(walk) == ("Skip to the page's content", "main")


def test_what_is_touched_is_large_enough(site, on_page):
    def look(page):
        page.set_viewport_size({"width": 360, "height": 800})
        page.goto(site)
        return page.evaluate("""() => Array.from(
            document.querySelectorAll("header a, header button, summary"),
            e => [e.textContent.trim(), e.getBoundingClientRect().height]
        ).filter(([, height]) => height < 44)""")

    assert on_page(look) == []


def test_without_a_script_the_page_says_where_the_numbers_are(site, chromium):
    with chromium.fresh(java_script_enabled=False) as on_page:

        def look(page):
            page.goto(site)
            page.click("#gap summary")
            return page.inner_text("#gap .drawing-place"), page.is_visible("#gap table")

        sentence, is_open = on_page(look)
    assert sentence == "The drawing needs a script. The table below has the same numbers."
    assert is_open
