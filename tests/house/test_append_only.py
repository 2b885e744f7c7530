"""Every model that is written once refuses to be changed, however it is tried; a new model is caught here."""

from datetime import UTC, datetime

import pytest
from django.apps import apps
from django.db import IntegrityError, models, transaction

from projects import trail
from projects.append_only import AppendOnly, WrittenOnce
from projects.models import Project, TrailEntry

OURS = ("projects", "budget", "schedule", "decisions", "reports")
MODELS = [model for model in apps.get_models() if model._meta.app_label in OURS]
WRITTEN_ONCE = [model for model in MODELS if issubclass(model, AppendOnly)]
#: May be edited, on purpose: what a person keeps up to date, each with a reason. Anything else is written once.
EDITED = {
    "User": "an account",
    "Project": "its settings, with a version",
    "Membership": "a role may change, a member may leave",
    "ApprovalLimit": "a setting",
    "Invitation": "is accepted or taken back",
    "Trade": "a list of the project's own",
    "Vendor": "an address book",
    "ImportBatch": "goes from previewed to brought in or taken back",
    "LineItem": "its text, its place and the kept figures, with a version",
    "ScopeItem": "a list of the project's own",
    "Quote": "its state; the amounts are rows of their own",
    "QuoteLine": "a kept figure, proved by reconcile",
    "Change": "its state and its newest figures, with a version; every step is a row of its own",
    "Invoice": "its state and kept figures, with a version; amounts and steps are rows of their own",
    "Risk": "what is feared changes as the work goes on; the trail tells how",
    "FundingSource": "a promise that may be written anew, with a version",
    "WorkCalendar": "the days somebody works, with a version; the trail tells what they were",
    "Closure": "days that a calendar rests, which may be moved or lifted",
    "Plan": "where the plan begins and what it came to; a kept figure",
    "Activity": "a plan is changed as the work goes on; the trail tells how, baselines keep what was promised",
    "Link": "the order of the work",
    "Question": "a what-if that is asked again",
    "HoldPoint": "its text, its booking; what was found and who signed are rows of their own",
    "HoldStop": "what it stops",
    "HoldSigner": "who has to sign",
    "HoldCheck": "its limit, which a code, a maker or an engineer overrides",
    "Delivery": "its promised day, with a version",
    "DeliveryStage": "a step on the way, until it is done",
    "Need": "is cleared or taken off",
    "Promise": "is kept or missed; a closed week is written once",
    "ActivityLine": "which money belongs to which work",
    "DecisionActivity": "which work waits for the answer",
    "OptionPlan": "a draft",
    "Decision": "a draft until it is recorded",
    "DecisionLine": "a draft",
    "MustPass": "a draft",
    "Option": "a draft",
    "CostItem": "a draft",
    "Effect": "a draft",
    "AdjustAxis": "a draft",
    "CheckResult": "a draft",
    "OwnersLink": "is taken back",
}


def test_every_model_is_written_once_or_edited_on_purpose():
    assert {model.__name__ for model in MODELS if model not in WRITTEN_ONCE} == set(EDITED)


ATTEMPTS = {
    "update": lambda model: model.objects.update(pk=1),
    "filtered update": lambda model: model.objects.filter(pk=1).update(pk=2),
    "delete all": lambda model: model.objects.all().delete(),
    "bulk update": lambda model: model.objects.bulk_update([], ["pk"]),
    "bulk upsert": lambda model: model.objects.bulk_create([], update_conflicts=True),
    "delete one": lambda model: model(pk=1).delete(),
    "save again": lambda model: as_if_read(model).save(),
}


def as_if_read(model: type[models.Model]) -> models.Model:
    row = model(pk=1)
    row._state.adding = False
    return row


@pytest.mark.parametrize("attempt", ATTEMPTS)
@pytest.mark.parametrize("model", WRITTEN_ONCE, ids=lambda model: model.__name__)
def test_a_written_row_refuses(model: type[models.Model], attempt: str):
    with pytest.raises(WrittenOnce):
        ATTEMPTS[attempt](model)


@pytest.mark.django_db
def test_a_made_up_row_cannot_overwrite_a_written_one():
    now = datetime(2027, 1, 29, tzinfo=UTC)
    project = Project.objects.create(slug="slab", name="Slab", currency="GBP", created_at=now)
    written = trail.note(project, by=None, at=now, verb="made", subject="project", subject_id=1, summary="First")
    forged = TrailEntry(pk=written.pk, project=project, at=now, by_name="x", verb="x", subject="x", summary="Forged")
    with pytest.raises(IntegrityError), transaction.atomic():
        forged.save()
    assert TrailEntry.objects.get(pk=written.pk).summary == "First"
