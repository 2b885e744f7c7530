"""The pieces of a page: what each one must never leave out."""

from dataclasses import dataclass, field

import pytest
from django import forms
from django.contrib.messages.storage.base import Message
from django.template import Context, Template
from django.test import RequestFactory

from projects import said
from projects.templatetags import parts


@dataclass(frozen=True)
class Build:
    currency: str = "GBP"
    locale: str = "en-GB"
    slug: str = "tank-hall"


@dataclass(frozen=True)
class Door:
    project: Build = field(default_factory=Build)


class QuoteForm(forms.Form):
    vendor = forms.CharField(help_text="As on the quote.")
    basis = forms.ChoiceField(choices=[("firm", "firm"), ("rates", "rates only")], widget=forms.RadioSelect)
    freight = forms.BooleanField(required=False)
    photo = forms.FileField(required=False)


def rendered(source: str, **context: object) -> str:
    return Template("{% load show parts %}" + source).render(Context({"door": Door(), **context}))


def test_a_difference_never_rests_on_colour_alone():
    over, saved = rendered("{% signed_cell 190000 door %}"), rendered("{% signed_cell -190000 door %}")
    assert "▲" in over and "+£1,900.00" in over and 'class="money over"' in over
    assert "▼" in saved and "−£1,900.00" in saved and 'class="money saved"' in saved


def test_the_mark_is_silent_for_a_screen_reader():
    assert 'aria-hidden="true">▲' in rendered("{% mark 1 %}")
    assert rendered("{% mark 0 %}") == ""


def test_an_amount_that_is_not_there_is_a_dash():
    assert rendered("{% cell none door %}{% signed_cell none door %}", none=None).count(">–<") == 2


def test_a_figure_names_its_yardstick_only_when_it_has_one():
    compared = rendered('{% figure label="Likely final" amount=100 holder=door difference=0 %}')
    alone = rendered('{% figure label="Left" amount=100 holder=door %}')
    assert "on budget" in compared and "budget" not in alone


def test_a_field_ties_label_help_and_fault_to_its_entry():
    form = QuoteForm({})
    html = rendered("{% field form.vendor %}", form=form)
    assert '<label class="field__label" for="id_vendor">' in html
    assert 'aria-describedby="id_vendor_helptext id_vendor_error"' in html
    assert 'id="id_vendor_helptext"' in html and 'id="id_vendor_error"' in html and 'aria-invalid="true"' in html


def test_choices_are_a_named_group():
    html = rendered("{% field form.basis %}", form=QuoteForm())
    assert "<fieldset" in html and "<legend" in html and html.count('type="radio"') == 2


def test_what_may_be_left_out_says_so():
    html = rendered("{% field form.photo %}", form=QuoteForm())
    assert "if you like" in html and "data-preview" in html
    assert "if you like" not in rendered("{% field form.vendor %}", form=QuoteForm())


def test_what_somebody_else_saved_stands_beside():
    html = rendered("{% field form.vendor theirs=theirs %}", form=QuoteForm(), theirs="Northgate <b>")
    assert "now stands" in html and "Northgate &lt;b&gt;" in html


def test_faults_are_listed_with_a_way_to_each_field():
    html = rendered("{% faults form %}", form=QuoteForm({}))
    assert 'role="alert"' in html and 'href="#id_vendor"' in html
    assert rendered("{% faults form %}", form=QuoteForm()).strip() == ""


def test_a_table_has_a_caption_even_when_it_is_not_shown():
    html = rendered('{% scroll caption="Trades" shown=False %}<tbody></tbody>{% endscroll %}')
    assert (
        '<caption class="unseen">Trades</caption>' in html and 'aria-label="Trades"' in html and 'tabindex="0"' in html
    )


def test_words_of_a_user_are_written_as_text():
    html = rendered('{% notice "wait" title=title %}{{ title }}{% endnotice %}', title="<script>")
    assert "<script>" not in html and html.count("&lt;script&gt;") == 2


def test_a_chart_brings_its_figures_as_a_table():
    figure = {
        "data": [],
        "layout": {},
        "table": {"caption": "Steps", "head": ["Step", "Moved"], "rows": [["<i>", "+£1"]]},
    }
    html = rendered('{% chart figure "bridge" "What moved" %}', figure=figure)
    assert 'data-chart="bridge-figure"' in html and '<script id="bridge-figure" type="application/json">' in html
    assert "The same as a table" in html and '<th scope="row">&lt;i&gt;</th>' in html
    assert "caption" not in html.partition("</script>")[0].partition("<script")[2]


def test_no_chart_is_no_markup():
    assert rendered('{% chart figure "bridge" %}', figure=None).strip() == ""


@pytest.mark.parametrize(
    ("path", "here"),
    [
        ("/p/tank-hall/", "Today"),
        ("/p/tank-hall/money/lines/3/", "Money"),
        ("/p/tank-hall/choices/", "Choices"),
        ("/p/tank-hall/project/people/", None),
    ],
)
def test_the_rail_marks_the_page_one_is_on(path: str, here: str | None):
    context = Context({"door": Door(), "request": RequestFactory().get(path)})
    marked = [entry["name"] for entry in parts.rail(context) if entry["here"]]
    assert marked == ([here] if here else [])


def test_the_pages_of_the_project_mark_the_longest_path():
    context = Context({"door": Door(), "request": RequestFactory().get("/p/tank-hall/project/people/")})
    assert [entry["name"] for entry in parts.rail_of_project(context) if entry["here"]] == ["People"]


def test_the_pages_of_money_hold_the_line_page_with_the_lines():
    context = Context({"door": Door(), "request": RequestFactory().get("/p/tank-hall/money/lines/3/")})
    assert [entry["name"] for entry in parts.rail_of_money(context) if entry["here"]] == ["Lines"]


@pytest.mark.parametrize(
    ("tags", "path"),
    [
        ("undo:/p/tank-hall/money/quotes/7/withdraw/", "/p/tank-hall/money/quotes/7/withdraw/"),
        ("", ""),
        ("undo:https://elsewhere.example/", ""),
        ("undo://elsewhere.example/", ""),
        ("undo:/\\elsewhere.example/", ""),
    ],
)
def test_an_undo_leads_nowhere_else(tags: str, path: str):
    assert said.undo_of(Message(25, "Done.", extra_tags=tags)) == path
