"""The addresses of the plan as files, below /p/<slug>/sequence/plan/."""

from django.urls import path

from reports.views import plan_sheets

app_name = "plan_sheets"
urlpatterns = [
    path("bring-in/", plan_sheets.bring_in, name="bring_in"),
    path("out/plan.xlsx", plan_sheets.workbook, name="workbook"),
    path("out/activities.csv", plan_sheets.activities_csv, name="activities_csv"),
    path("out/links.csv", plan_sheets.links_csv, name="links_csv"),
]
