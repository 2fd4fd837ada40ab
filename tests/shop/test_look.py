"""What pages are made of: tags, forms, tables, notices, error pages, and colors that can be read."""

from __future__ import annotations

import csv
import re
from datetime import timedelta
from pathlib import Path
from typing import Any

import django_tables2
import pytest
from django import forms
from django.conf import settings
from django.contrib.auth.models import AnonymousUser
from django.template import Context, Template
from django.template.loader import render_to_string
from django.test import Client, RequestFactory
from django.utils import timezone

from shop.context import shop_settings, shop_settings_kept
from shop.forms import HouseForm
from shop.models import ShopSettings
from shop.tables import HouseTable, csv_file, shown

STATIC = Path(settings.BASE_DIR) / "shop" / "static" / "shop"
HOUSE_TEMPLATES = [
    file
    for app in ("shop", "orders", "labels")
    for file in (Path(settings.BASE_DIR) / app).rglob("templates/**/*.html")
]


def draw(template: str, **values: Any) -> str:
    return Template(template).render(Context(values))


# --- filters and tags ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("unit", "mg", "text"),
    [
        ("lb", 45_359_237, "100.0 lb"),
        ("lb", 21_863_152, "48.2 lb"),
        ("kg", 21_863_152, "21.9 kg"),
        ("lb", 0, "0.0 lb"),
        ("lb", None, "not weighed"),
    ],
)
def test_weights_are_shown_in_the_shop_s_unit(db: None, unit: str, mg: int | None, text: str) -> None:
    ShopSettings.objects.create(unit=unit)
    assert draw("{{ mg|weight }}", mg=mg) == text


def test_a_weight_in_a_unit_of_its_own(db: None) -> None:
    # 1 oz = 28 349.523 125 mg: NIST Handbook 44, Appendix C.
    assert draw('{{ mg|weight:"oz" }}', mg=283_495) == "10.0 oz"


@pytest.mark.parametrize(
    ("cents", "text"),
    [
        (1250, "$12.50"),
        (5, "$0.05"),
        (0, "$0.00"),
        (101_250, "$1,012.50"),
        (-250, "-$2.50"),
        (None, "no price"),
    ],
)
def test_money(cents: int | None, text: str) -> None:
    assert draw("{{ cents|money }}", cents=cents) == text


def test_codes_are_spaced_for_reading_aloud() -> None:
    assert draw("{{ code|code }}", code="2000000425") == "2 0000 0042 5"
    assert draw("{{ code|code }}", code=None) == ""


@pytest.mark.parametrize(
    ("days", "text"),
    [(0, "today"), (1, "yesterday"), (12, "12 days ago"), (-1, "tomorrow"), (-3, "in 3 days")],
)
def test_days_are_counted_in_the_shop_s_zone(days: int, text: str) -> None:
    day = timezone.localdate() - timedelta(days=days)
    late = timezone.localtime().replace(hour=23, minute=59) - timedelta(days=days)
    assert draw("{{ day|ago_days }}", day=day) == text
    assert draw("{{ day|ago_days }}", day=late) == text


def test_each_form_has_an_id_of_its_own() -> None:
    page = draw("{% sender_id %}{% sender_id %}")
    ids = re.findall(r'<input type="hidden" name="sender_id" value="([0-9a-f-]{36})">', page)
    assert len(set(ids)) == 2


@pytest.mark.parametrize(
    ("kind", "shown_as", "words"),
    [
        ("good", "good", "Done."),
        ("refused", "refused", "Not done."),
        ("already", "already", "Already done."),
        ("hold", "hold", "Stop."),
        ("success", "good", "Done."),
        ("error", "refused", "Not done."),
    ],
)
def test_a_notice_says_in_words_what_its_color_says(kind: str, shown_as: str, words: str) -> None:
    page = draw("{% notice kind text %}", kind=kind, text="Lug <3> is on the rack.")
    assert f'class="notice {shown_as}"' in page
    assert f"<strong>{words}</strong> Lug &lt;3&gt; is on the rack." in page


def test_each_notice_has_a_shape_of_its_own() -> None:
    shapes = {
        re.sub(r"\s+", "", draw("{% notice k '' %}", k=k).split("</svg>")[0].split(">", 2)[2])
        for k in ("good", "refused", "already", "hold")
    }
    assert len(shapes) == 4


def test_the_shop_s_row_is_read_once_per_request(db: None, django_assert_num_queries: Any) -> None:
    ShopSettings.objects.create(name="Crooked Lantern Game Processing")
    with django_assert_num_queries(1), shop_settings_kept():
        names = {shop_settings().name, shop_settings().name}
    assert names == {"Crooked Lantern Game Processing"}
    ShopSettings.objects.update(name="Renamed")
    assert shop_settings().name == "Renamed"


# --- the page by role ---------------------------------------------------------------------------------------------


def words_of_navigation(page: str) -> list[str]:
    return re.findall(r"<li><a href=[^>]+>([^<]+)</a></li>", page)


def test_the_navigation_shows_a_role_only_what_it_may_open(client: Client, people: Any) -> None:
    seen = {}
    for person in (people.owner, people.clerk, people.cutter):
        client.force_login(person)
        seen[person.role] = words_of_navigation(client.get("/no-such-page/").content.decode())
    assert {"People", "Devices"} <= set(seen["owner"])
    assert not {"People", "Devices", "Where the pounds went"} & set(seen["counter"])
    assert seen["floor"] == []


def test_the_current_page_is_marked(client: Client, people: Any) -> None:
    client.force_login(people.owner)
    page = client.get("/people/").content.decode()
    assert page.count('aria-current="page"') == 1
    assert '<a href="/people/" aria-current="page">People</a>' in page


def test_the_floor_gets_its_own_look_and_no_fragments(client: Client, people: Any) -> None:
    client.force_login(people.cutter)
    page = client.get("/no-such-page/").content.decode()
    assert '<body class="floor"' in page
    assert "htmx" not in page.split("</head>")[0]


def test_who_and_where_stand_in_the_header(client: Client, people: Any) -> None:
    client.force_login(people.clerk)
    header = client.get("/no-such-page/").content.decode().split("</header>")[0]
    assert "Clem Tansy" in header
    assert 'action="/logout/"' in header


# --- forms --------------------------------------------------------------------------------------------------------


class WeighForm(HouseForm):
    weight = forms.CharField(label="Received weight", help_text="Like 101.5")
    note = forms.CharField(required=False)
    side = forms.ChoiceField(choices=[("l", "Left"), ("r", "Right")], widget=forms.RadioSelect)


@pytest.mark.parametrize("how", ["{{ form }}", '{% include "forms/form.html" %}'])
def test_label_help_and_error_belong_to_their_field(how: str) -> None:
    page = draw(how, form=WeighForm({"note": "one hind shot", "side": "l"}))
    field = re.search(r"<input[^>]+name=\"weight\"[^>]*>", page)
    assert field is not None
    assert 'aria-describedby="id_weight_helptext id_weight_error"' in field[0]
    assert 'aria-invalid="true"' in field[0]
    assert '<p class="help" id="id_weight_helptext">Like 101.5</p>' in page
    assert '<p class="error" id="id_weight_error">This field is required.</p>' in page
    assert '<label for="id_weight">Received weight</label>' in page
    assert 'value="one hind shot"' in page
    assert "<legend>Side</legend>" in page


# --- tables -------------------------------------------------------------------------------------------------------


class LugTable(HouseTable):
    caption = "Lugs on the rack"
    exportable = True
    name = django_tables2.Column()
    pounds = django_tables2.Column(orderable=False)


def lugs(count: int = 120) -> LugTable:
    return LugTable([{"name": f"Lug {n:03d}", "pounds": n} for n in range(1, count + 1)])


def page_of(query: str, table: LugTable | None = None) -> str:
    request = RequestFactory().get(f"/lugs/?{query}")
    request.user = AnonymousUser()
    return str(shown(request, table or lugs()).as_html(request))


def test_a_table_says_how_it_is_ordered(db: None) -> None:
    page = page_of("sort=-name")
    assert "<caption>Lugs on the rack</caption>" in page
    assert page.count('<th scope="col"') == 2
    assert page.count("aria-sort=") == 1
    assert 'aria-sort="descending"' in page
    assert re.findall(r"Lug \d+", page)[0] == "Lug 120"
    assert '<a href="?sort=name">' in page


def test_pages_are_plain_links_and_keep_the_order(db: None) -> None:
    page = page_of("sort=-name&page=2")
    assert "Page 2 of 3, 120 rows" in page
    assert 'class="export" href="?sort=-name&amp;page=2&amp;save=csv">Save as CSV' in page
    assert re.search(r'rel="next" href="\?sort=-name&amp;page=3"', page)
    assert len(re.findall(r"<td[^>]*>Lug \d+", page)) == 50


@pytest.mark.parametrize(
    ("asked", "rows"), [("100000", 200), ("10", 10), ("0", 50), ("-3", 50), ("x", 50), ("9" * 40, 200)]
)
def test_nobody_gets_the_whole_season_on_one_page(db: None, asked: str, rows: int) -> None:
    assert len(re.findall(r"<td[^>]*>Lug \d+", page_of(f"per_page={asked}", lugs(300)))) == rows


@pytest.mark.parametrize("page", ["9", "0", "x", "99999999999999999999"])
def test_a_page_that_does_not_exist_is_the_first(db: None, page: str) -> None:
    assert "Page 1 of 3" in page_of(f"page={page}")


def test_an_empty_table_says_so(db: None) -> None:
    assert "Nothing here." in page_of("", lugs(0))


def test_csv_has_every_row_and_no_formulas(db: None) -> None:
    # Leading =, +, -, @ start a formula: https://owasp.org/www-community/attacks/CSV_Injection
    rows = [
        {"name": "=1+1", "pounds": -3},
        {"name": "Peña, Jo", "pounds": "-2.50"},
        {"name": "@SUM(A1)", "pounds": None},
    ]
    response = csv_file(RequestFactory().get("/lugs/"), LugTable(rows), "lugs")
    text = response.content.decode("utf-8-sig")
    assert list(csv.reader(text.splitlines())) == [
        ["Name", "Pounds"],
        ["'=1+1", "-3"],
        ["Peña, Jo", "-2.50"],
        ["'@SUM(A1)", ""],
    ]
    assert response.headers["Content-Disposition"] == 'attachment; filename="lugs.csv"'
    whole = csv_file(RequestFactory().get("/lugs/?page=2"), lugs(120), "lugs")
    assert whole.content.decode().count("Lug ") == 120


# --- errors, and what the browser is allowed ----------------------------------------------------------------------


def test_the_page_for_faults_needs_nothing_to_be_shown() -> None:
    page = render_to_string("500.html")
    assert "Something broke on our side" in page
    assert "shop/gambrel.css" in page


def test_an_unknown_address_says_so_to_strangers_too(client: Client, db: None) -> None:
    response = client.get("/no-such-page/")
    assert response.status_code == 404
    assert "There is nothing at this address" in response.content.decode()


def test_the_browser_is_told_to_load_from_here_only(client: Client, db: None) -> None:
    policy = client.get("/login/").headers["Content-Security-Policy"]
    assert "default-src 'self'" in policy
    assert "unsafe" not in policy


@pytest.mark.parametrize("file", HOUSE_TEMPLATES, ids=lambda file: f"{file.parent.name}/{file.name}")
def test_templates_need_no_exception_from_that(file: Path) -> None:
    text = file.read_text()
    assert not re.search(r"<style|\sstyle=|\son[a-z]+=\"|javascript:", text), "inline style or script"
    assert all("src=" in tag for tag in re.findall(r"<script[^>]*>", text)), "inline script"
    assert not re.search(r"""(?:src|href|action)=["']?(?:https?:)?//""", text), (
        "a request leaves the building"
    )


def test_styles_and_scripts_fetch_nothing_from_elsewhere() -> None:
    files = [file for file in STATIC.rglob("*") if file.suffix in {".css", ".js"}]
    assert {"gambrel.css", "scan.js"} <= {file.name for file in files}
    for file in files:
        assert not re.search(r"https?://|@import|url\(", file.read_text()), file.name


# --- colors -------------------------------------------------------------------------------------------------------


def luminance(color: str) -> float:
    """Relative luminance, WCAG 2.2, https://www.w3.org/TR/WCAG22/#dfn-relative-luminance"""
    parts = [int(color[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio, WCAG 2.2, https://www.w3.org/TR/WCAG22/#dfn-contrast-ratio"""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_contrast_formula_gives_its_published_ends() -> None:
    # "Contrast ratios can range from 1 to 21": same source, note 1.
    assert contrast("#ffffff", "#000000") == pytest.approx(21)
    assert contrast("#777777", "#777777") == 1


PAIRS = [
    ("ink", "bone"), ("ink", "paper"), ("ink-soft", "bone"), ("ink-soft", "paper"), ("spruce", "bone"),
    ("paper", "spruce"), ("spruce-deep", "spruce-soft"), ("rust-deep", "paper"), ("paper", "rust"),
    ("good", "good-soft"), ("refused", "refused-soft"), ("refused", "paper"), ("already", "already-soft"),
    ("hold", "hold-soft"), ("paper", "good"), ("paper", "refused"), ("paper", "already"),
]  # fmt: skip


@pytest.mark.parametrize(("front", "back"), PAIRS)
def test_text_stands_out_from_what_it_is_on(front: str, back: str) -> None:
    colors = dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", (STATIC / "gambrel.css").read_text()))
    # At least 4.5 to 1 for text: WCAG 2.2, success criterion 1.4.3.
    assert contrast(colors[front], colors[back]) >= 4.5
    # Borders of fields and buttons, at least 3 to 1: success criterion 1.4.11.
    assert contrast(colors["line-strong"], colors["paper"]) >= 3
