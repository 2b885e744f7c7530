"""The address book of the projects app: the list, the link to join, and the pages about one project."""

from django.urls import include, path

from projects.views import builds, files, people

app_name = "projects"

_project = [
    path("project/", builds.settings, name="settings"),
    path("project/cost-of-a-day/", builds.cost_of_day, name="cost_of_day"),
    path("project/tax/", builds.tax, name="tax"),
    path("project/people/", people.people, name="people"),
    path("project/people/invite/", people.invite, name="invite"),
    path("project/people/limits/", people.limits, name="limits"),
    path("project/people/invitations/<int:pk>/take-back/", people.take_back, name="take_back"),
    path("project/people/<int:pk>/role/", people.role, name="role"),
    path("project/people/<int:pk>/take-off/", people.take_off, name="take_off"),
    path("project/rates/", builds.rates, name="rates"),
    path("project/trail/", builds.trail, name="trail"),
    path("files/<int:pk>/", files.file, name="file"),
]

urlpatterns = [
    path("", builds.home, name="home"),
    path("projects/", builds.my_builds, name="list"),
    path("projects/new/", builds.new, name="new"),
    path("join/<str:secret>/", people.join, name="join"),
    path("p/<slug:slug>/", include(_project)),
]
