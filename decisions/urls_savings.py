"""The savings book, below /p/<slug>/money/savings/: it belongs to Money for its readers, and knows of decisions."""

from django.urls import path

from decisions.views import savings

app_name = "savings"

urlpatterns = [
    path("", savings.book, name="book"),
    path("new/", savings.add, name="add"),
    path("<int:pk>/further/", savings.further, name="further"),
    path("<int:pk>/undo/", savings.undo, name="undo"),
    path("<int:pk>/take-back/", savings.take_back, name="take_back"),
]
