from __future__ import annotations

from django.urls import path

from shop.account import views

urlpatterns = [
    path("sign-in/", views.sign_in, name="sign-in"),
    path("sign-out/", views.sign_out, name="sign-out"),
    path("forgot/", views.forgot, name="forgot"),
    path("account/", views.own_account, name="own-account"),
    path("account/password/", views.change_password, name="change-password"),
    path("join/<str:token>/", views.join, name="join"),
]
