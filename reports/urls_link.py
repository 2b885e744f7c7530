"""The owners' page by its link, at /o/<token>/."""

from django.urls import path

from reports.views import owners

urlpatterns = [path("<str:token>/", owners.linked, name="owners_link")]
