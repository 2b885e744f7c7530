"""Entry fields read what the place writes; the tables are by hand, from common practice (no source)."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django import forms
from hypothesis import given
from hypothesis import strategies as st

from projects.faults import Refused, Stale
from projects.forms import ChanceField, DateField, MoneyField, NumberField, PercentField, ProjectForm
from projects.models import Project

BRITISH = Project(currency="GBP", locale="en-GB")
GERMAN = Project(currency="EUR", locale="de-DE")
AMERICAN = Project(currency="USD", locale="en-US")


class Sample(ProjectForm):
    name = forms.CharField(required=False)
    currency = forms.ChoiceField(choices=[("GBP", "pounds"), ("JPY", "yen")], required=False)
    amount = MoneyField(required=False, currency_from="currency")
    credit = MoneyField(required=False, negative=True)
    rate = NumberField(required=False, above=0)
    tax = PercentField(required=False)
    chance = ChanceField(required=False)
    on = DateField(required=False)
    version = forms.IntegerField(required=False, widget=forms.HiddenInput)


def read(name: str, text: str, project: Project = BRITISH, **beside: str) -> Any:
    form = Sample({name: text, **beside}, project=project)
    return form.cleaned_data[name] if form.is_valid() else form.errors[name][0]


@pytest.mark.parametrize(
    ("project", "text", "minor"),
    [(BRITISH, "£12,400.00", 1240000), (GERMAN, "12.400,50 €", 1240050), (AMERICAN, "$7", 700), (BRITISH, "", None)],
)
def test_money_is_read_by_the_marks_of_the_place(project: Project, text: str, minor: int | None):
    assert read("amount", text, project) == minor


def test_money_is_read_in_the_currency_named_beside_it():
    assert read("amount", "1,200", currency="JPY") == 1200
    assert read("amount", "1,200", currency="GBP") == 120000
    assert "yen" not in read("amount", "£5", currency="JPY") and "JPY" in read("amount", "£5", currency="JPY")


def test_a_row_takes_the_currency_of_the_form_above():
    form = Sample({"credit": "1,200"}, project=BRITISH, currency="JPY")
    assert form.is_valid() and form.cleaned_data["credit"] == 1200


def test_an_amount_below_zero_needs_leave():
    assert read("credit", "(5)") == -500
    assert "below zero" in read("amount", "(5)")


@pytest.mark.parametrize(("text", "said"), [("18.9k", "in full"), ("1.234", "12400.50"), ("x" * 70, "not an amount")])
def test_the_fault_says_the_mend(text: str, said: str):
    assert said in read("amount", text)


@given(st.integers(0, 10**13), st.sampled_from([BRITISH, GERMAN, AMERICAN]))
def test_what_an_entry_shows_reads_back(minor: int, project: Project):
    shown = Sample(project=project, initial={"amount": minor})["amount"].value()
    assert read("amount", shown, project) == minor


@pytest.mark.parametrize(
    ("name", "text", "project", "value"),
    [
        ("rate", "0.86", BRITISH, Decimal("0.86")),
        ("rate", "1,234.5", BRITISH, Decimal("1234.5")),
        ("rate", "0,86", GERMAN, Decimal("0.86")),
        ("tax", "8.25 %", BRITISH, Decimal("8.25")),
        ("tax", "8,25", GERMAN, Decimal("8.25")),
        ("chance", "35%", BRITISH, Decimal("0.35")),
        ("on", "2027-05-28", AMERICAN, date(2027, 5, 28)),
        ("on", "05/28/2027", AMERICAN, date(2027, 5, 28)),
        ("on", "28/05/2027", BRITISH, date(2027, 5, 28)),
        ("on", "28 May 2027", BRITISH, date(2027, 5, 28)),
        ("on", "28.05.2027", GERMAN, date(2027, 5, 28)),
    ],
)
def test_figures_are_exact(name: str, text: str, project: Project, value: object):
    assert read(name, text, project) == value


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        ("rate", "0", "more than 0"),
        ("rate", "0,86", "not a number"),
        ("rate", "1e3", "not a number"),
        ("rate", "NaN", "not a number"),
        ("rate", "0.1234567", "decimals"),
        ("tax", "101", "at most 100"),
        ("chance", "-1", "at least 0"),
        ("on", "28/05/27", "one way only"),
        ("on", "05/28/2027", "one way only"),
        ("on", "1066-10-14", "out of range"),
        ("on", "2027-02-30", "one way only"),
    ],
)
def test_a_slip_is_refused_in_words(name: str, text: str, said: str):
    assert said in read(name, text)


def test_a_refusal_stands_at_the_field_it_names():
    form = Sample({"name": "x"}, project=BRITISH)
    assert form.is_valid()
    form.refuse(Refused("taken", field="name"))
    form.refuse(Refused("closed", field="elsewhere"))
    assert form.errors["name"] == ["taken"] and form.non_field_errors() == ["closed"]


def test_a_stale_form_keeps_what_was_typed_and_shows_what_stands():
    form = Sample({"name": "mine", "amount": "5", "currency": "GBP", "version": "1"}, project=BRITISH)
    assert form.is_valid()
    form.refuse(Stale("saved", theirs={"name": "theirs", "amount": 700, "currency": "GBP", "on": None, "version": 2}))
    assert form["name"].value() == "mine" and form["version"].value() == "2"
    assert (form.theirs["name"], form.theirs["amount"], form.theirs["currency"], form.theirs["on"]) == (
        "theirs",
        "7.00",
        None,
        None,
    )
