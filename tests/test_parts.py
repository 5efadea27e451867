"""The parts that pages are put together from, and the places in sight for each role."""

import re
from typing import Any

import pytest
from django.template import Context, Template
from django.urls import reverse

from brewhygiene.templatetags.parts import places, sparkline_points
from tests.factories import Cellar, make_user
from tests.turnarounds.floor import signed_in

pytestmark = pytest.mark.django_db


def drawn(text: str, **shown: Any) -> str:
    return Template("{% load parts %}" + text).render(Context(shown))


def titles(*held: str) -> tuple[list[str], list[str]]:
    found = places(dict.fromkeys(held, True))
    return [place.title for place in found.bar], [place.title for place in found.menu]


# --- Finding the way ---


def test_hand_has_three_places_and_the_rest_in_the_menu() -> None:
    bar, menu = titles("work_cellar", "fill_vessel")
    assert bar == ["Board", "Sample", "Meters"]
    assert menu == ["Release", "Plates", "Batches", "Trends", "Tools", "Set-up"]


def test_head_brewer_has_release_plates_and_trends_as_well() -> None:
    bar, menu = titles("work_cellar", "decide_release", "see_everything")
    assert bar == ["Board", "Sample", "Release", "Plates", "Meters", "Trends"]
    assert menu == ["Batches", "Tools", "Set-up"]


def test_owner_has_trends_first() -> None:
    bar, menu = titles("manage_people", "see_everything")
    assert bar == ["Trends", "Board", "Release", "Plates"]
    assert menu == ["Sample", "Meters", "Batches", "Tools", "Set-up"]


def test_every_place_is_one_tap_or_two_away_for_everybody() -> None:
    for held in ((), ("work_cellar",), ("decide_release",), ("see_everything",)):
        bar, menu = titles(*held)
        assert sorted(bar + menu) == sorted(
            [
                "Board",
                "Sample",
                "Meters",
                "Release",
                "Plates",
                "Batches",
                "Trends",
                "Tools",
                "Set-up",
            ]
        )


def test_changing_hands_and_signing_out_stand_outside_the_menu() -> None:
    html = signed_in(make_user()).get("/").content.decode()
    after_menu = html[html.index("</ul>", html.index('id="menu"')) :]
    assert f'href="{reverse("people:switch")}?next=%2F"' in after_menu
    assert '<button class="quiet">Sign out</button>' in after_menu


def test_current_place_is_marked_once_and_room_for_its_number_is_kept() -> None:
    html = signed_in(Cellar().brewer).get(reverse("release:queue")).content.decode()
    nav = html[html.index('<nav class="rooms"') : html.index("</nav>")]
    assert nav.count('aria-current="page"') == 1
    assert f'href="{reverse("release:queue")}" aria-current="page"' in nav
    assert nav.count('<span class="waits" id="waits-') == 4


def test_trail_leads_from_room_to_step(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    clean = turnaround.cleans.select_related("version__regime").get()
    html = drawn('{% trail room="board" clean=clean here="Rinse" %}', clean=clean)
    leads = [
        ("/", "Board"),
        (reverse("board:vessel", args=[turnaround.vessel_id]), turnaround.vessel.name),
        (reverse("board:turnaround", args=[turnaround.pk]), "Turnaround"),
        (reverse("turnarounds:clean", args=[clean.pk]), clean.version.regime.name),
    ]
    assert [f'<li><a href="{url}">{title}</a></li>' in html for url, title in leads] == [True] * 4
    assert '<li aria-current="page">Rinse</li>' in html


def test_trail_of_an_unknown_room_is_refused() -> None:
    with pytest.raises(StopIteration):
        drawn('{% trail room="attic" %}')


@pytest.fixture
def cellar() -> Cellar:
    return Cellar()


# --- Parts ---


def test_what_is_given_to_a_part_is_shown_as_text() -> None:
    for text in (
        "{% pagehead words %}{% endpagehead %}",
        "{% section words %}{% endsection %}",
        "{% listrow words %}{% endlistrow %}",
        "{% notice title=words %}{% endnotice %}",
        "{% disclosure words %}{% enddisclosure %}",
        "{% source words %}",
        "{% emptystate words %}{% endemptystate %}",
        "{% figurecard words words %}{% endfigurecard %}",
        "{% signpanel words %}{% endsignpanel %}",
        '{% chip words "#" %}',
        '{% tab words "#" %}',
    ):
        html = drawn(text, words="<b>5 & 6</b>")
        assert "<b>5" not in html, text
        assert "&lt;b&gt;5 &amp; 6&lt;/b&gt;" in html, text


def test_what_stands_in_a_part_is_kept_as_it_is() -> None:
    html = drawn("{% notice %}<p>{{ words }}</p>{% endnotice %}", words="5 < 6")
    assert html == '<div class="notice "><p>5 &lt; 6</p></div>'


def test_notice_of_an_unknown_kind_is_refused() -> None:
    with pytest.raises(KeyError):
        drawn('{% notice "shout" %}{% endnotice %}')


def test_only_what_stops_the_work_is_announced() -> None:
    assert 'role="alert"' in drawn('{% notice "stop" %}{% endnotice %}')
    for kind in ("note", "done", "warning"):
        assert "role" not in drawn(f'{{% notice "{kind}" %}}{{% endnotice %}}')


def test_each_source_has_a_mark_of_its_own() -> None:
    html = drawn('{% source "one" about="time" %}{% source "two" %}')
    marks = re.findall(r'popovertarget="([^"]+)" aria-label="([^"]+)"', html)
    assert [label for _, label in marks] == ["Source of time", "Source"]
    assert re.findall(r'popover id="([^"]+)"', html) == [name for name, _ in marks]
    assert len({name for name, _ in marks}) == 2


def test_section_is_named_by_its_heading() -> None:
    html = drawn('{% section "Readings of today" count=0 %}{% endsection %}')
    assert 'aria-labelledby="readings-of-today"' in html
    assert '<h2 id="readings-of-today">' in html
    assert '<span class="section-count">0</span>' in html


@pytest.mark.parametrize(
    ("values", "points"),
    [
        ([], []),
        ([4], []),
        ([None, 4], []),
        ([2, 2], ["0.0,30.0 100.0,30.0"]),
        ([0, 10, 5], ["0.0,30.0 50.0,0.0 100.0,15.0"]),
        ([0, None, 10], ["0.0,30.0", "100.0,0.0"]),
    ],
)
def test_small_line_is_drawn_in_its_box(values: list[float | None], points: list[str]) -> None:
    assert sparkline_points(values) == points


def test_page_of_all_parts_answers() -> None:
    response = signed_in(make_user()).get("/parts/")
    assert response.status_code == 200
    html = response.content.decode()
    for name in (
        "page-head",
        "list-row",
        "facts",
        "tiles",
        "notice-stop",
        "tabs",
        "chips",
        "source",
    ):
        assert f'class="{name}' in html or f' {name}"' in html, name
