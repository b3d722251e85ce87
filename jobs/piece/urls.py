from __future__ import annotations

from django.urls import path

from jobs.piece import section, views

urlpatterns = [
    path("", views.figure, name="piece-figure"),
    path("sheet.pdf", views.sheet, name="piece-sheet"),
    path("section/", section.section, name="piece-section"),
    path("section/plan/", section.plan, name="piece-section-plan"),
    path("section/remove/", section.remove, name="piece-section-remove"),
]
