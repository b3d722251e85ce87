from __future__ import annotations

from django.urls import path

from jobs.mixing import runs, views

urlpatterns = [
    path("", views.mixing, name="mixing"),
    path("together/", views.together, name="mixing-together"),
    path("casts/<int:batch_id>/", runs.cast_runs, name="cast-runs"),
    path("casts/<int:batch_id>/open/", runs.open_run, name="open-run"),
    path("runs/<int:run_id>/tick/", runs.tick_line, name="tick-line"),
    path("runs/<int:run_id>/strike/", runs.strike_run, name="strike-run"),
    path("weighed/<int:weighed_id>/take-back/", runs.take_back_tick, name="take-back-tick"),
]
