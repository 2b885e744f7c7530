"""The addresses of deliveries."""

from django.urls import path

from schedule.views import deliveries as views

urlpatterns = [
    path("", views.listing, name="deliveries"),
    path("new/", views.new, name="new_delivery"),
    path("<int:delivery_id>/", views.one, name="delivery"),
    path("<int:delivery_id>/edit/", views.edit, name="edit_delivery"),
    path("<int:delivery_id>/stages/<slug:kind>/", views.stage, name="delivery_stage"),
    path("<int:delivery_id>/stages/<slug:kind>/back/", views.take_back, name="undo_stage"),
    path("<int:delivery_id>/promised/", views.promised, name="promised_day"),
    path("<int:delivery_id>/remove/", views.remove, name="remove_delivery"),
    path("<int:delivery_id>/put-back/", views.put_back, name="put_back_delivery"),
]
