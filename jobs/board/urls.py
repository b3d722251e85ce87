from __future__ import annotations

from django.urls import path

from jobs.board import views

urlpatterns = [
    path("", views.board, name="board"),
    path("jobs/<str:number>/", views.job, name="board-job"),
]
