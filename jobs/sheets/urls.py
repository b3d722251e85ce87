from __future__ import annotations

from django.urls import path

from jobs.sheets import views

urlpatterns = [
    path("tags.pdf", views.tags, name="tags-sheet"),
]
