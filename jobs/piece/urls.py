from __future__ import annotations

from django.urls import path

from jobs.piece import views

urlpatterns = [
    path("", views.figure, name="piece-figure"),
    path("sheet.pdf", views.sheet, name="piece-sheet"),
]
