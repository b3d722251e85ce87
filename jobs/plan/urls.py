from __future__ import annotations

from django.urls import path

from jobs.plan import views

urlpatterns = [
    path("", views.plan, name="plan"),
    path("days/", views.days, name="plan-days"),
    path("run/", views.run, name="plan-run"),
    path("ask/", views.ask, name="plan-ask"),
    path("pin/", views.pin, name="plan-pin"),
    path("runs/<int:plan_id>/stop/", views.stop, name="plan-stop"),
    path("runs/<int:plan_id>/", views.proposal, name="plan-proposal"),
    path("runs/<int:plan_id>/take/", views.take, name="plan-take"),
    path("runs/<int:plan_id>/leave/", views.leave, name="plan-leave"),
    path("taken/<int:accepted_id>/undo/", views.undo, name="plan-undo"),
]
