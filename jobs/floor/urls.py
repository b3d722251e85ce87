from __future__ import annotations

from django.urls import path

from jobs.floor import views

urlpatterns = [
    path("", views.floor, name="floor"),
    path("pieces/<str:code>/", views.piece, name="piece"),
]
