from __future__ import annotations

from django.urls import path

from jobs.piece import dxf, outline_in, section, views

urlpatterns = [
    path("", views.figure, name="piece-figure"),
    path("sheet.pdf", views.sheet, name="piece-sheet"),
    path("outline.dxf", dxf.outline, name="piece-outline"),
    path("outline-in/", outline_in.outline_in, name="piece-outline-in"),
    path("section/", section.section, name="piece-section"),
    path("section/plan/", section.plan, name="piece-section-plan"),
    path("section/remove/", section.remove, name="piece-section-remove"),
]
