"""The addresses of the look-ahead and of the weekly promises."""

from django.urls import path

from schedule.views import ahead, promises

urlpatterns = [
    path("", ahead.weeks, name="ahead"),
    path("trade/", ahead.trade, name="trade_page"),
    path("needs/new/", ahead.new_need, name="new_need"),
    path("needs/<int:need_id>/edit/", ahead.edit_need, name="edit_need"),
    path("needs/<int:need_id>/clear/", ahead.clear, name="clear_need"),
    path("needs/<int:need_id>/reopen/", ahead.reopen, name="reopen_need"),
    path("needs/<int:need_id>/remove/", ahead.remove, name="remove_need"),
    path("needs/<int:need_id>/put-back/", ahead.put_back, name="put_back_need"),
    path("promises/", promises.week, name="promises"),
    path("promises/new/", promises.new, name="new_promise"),
    path("promises/make/", promises.make, name="make_promise"),
    path("promises/close/", promises.close, name="close_week"),
    path("promises/paper/", promises.paper, name="count_week"),
    path("promises/<int:promise_id>/kept/", promises.kept, name="promise_kept"),
    path("promises/<int:promise_id>/missed/", promises.missed, name="promise_missed"),
    path("promises/<int:promise_id>/open/", promises.unmark, name="unmark_promise"),
    path("promises/<int:promise_id>/remove/", promises.remove, name="remove_promise"),
    path("promises/<int:promise_id>/put-back/", promises.put_back, name="put_back_promise"),
]
