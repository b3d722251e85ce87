from __future__ import annotations

from django.urls import path

from jobs.drying import views

urlpatterns = [
    path("", views.mix_drying, name="mix-drying"),
    path("take/", views.take, name="take-drying"),
    path("leave/", views.leave, name="leave-drying"),
]
