from django.contrib.auth import views as auth
from django.urls import path

from projects.signin import views

urlpatterns = [
    path("sign-in/", views.SignIn.as_view(), name="sign_in"),
    path("sign-in/line/<str:token>/", views.sign_in_by_line, name="sign_in_line"),
    path("sign-out/", auth.LogoutView.as_view(), name="sign_out"),
    path("password/", auth.PasswordChangeView.as_view(), name="password_change"),
    path("password/changed/", auth.PasswordChangeDoneView.as_view(), name="password_change_done"),
    path("password/forgotten/", auth.PasswordResetView.as_view(), name="password_reset"),
    path("password/forgotten/sent/", auth.PasswordResetDoneView.as_view(), name="password_reset_done"),
    path(
        "password/new/<uidb64>/<token>/",
        auth.PasswordResetConfirmView.as_view(),
        name="password_reset_confirm",
    ),
    path("password/new/done/", auth.PasswordResetCompleteView.as_view(), name="password_reset_complete"),
]
