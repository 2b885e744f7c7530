"""The addresses of what-ifs."""

from django.urls import URLPattern, path

from schedule.views import questions

urlpatterns: list[URLPattern] = [
    path("", questions.what_if, name="what_if"),
    path("keep/", questions.keep, name="keep_question"),
    path("<int:question_id>/", questions.show, name="question"),
    path("<int:question_id>/put-in/", questions.put_in, name="put_question_in"),
    path("<int:question_id>/take-out/", questions.take_out, name="take_question_out"),
    path("<int:question_id>/remove/", questions.remove, name="remove_question"),
    path("<int:question_id>/bring-back/", questions.bring_back, name="bring_question_back"),
]
