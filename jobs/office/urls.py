from __future__ import annotations

from django.urls import path

from jobs.office import views

urlpatterns = [
    path("", views.office, name="office"),
    path("jobs/<str:number>/", views.job, name="job"),
]
