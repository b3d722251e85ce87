from __future__ import annotations

from django.urls import path

from jobs.demolds import views

urlpatterns = [
    path("", views.demolds, name="mix-demolds"),
    path("yes/", views.yes, name="demolds-yes"),
    path("back/", views.back, name="demolds-back"),
]
