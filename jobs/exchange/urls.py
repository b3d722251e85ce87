from __future__ import annotations

from django.urls import path

from jobs.exchange import bring_in, columns, take_out

urlpatterns = [
    path("in/", bring_in.bring_in, name="bring-in"),
    path("in/<str:token>/sheet/", bring_in.sheet, name="bring-in-sheet"),
    path("in/<str:token>/columns/", columns.columns, name="bring-in-columns"),
    path("in/<str:token>/rows/", bring_in.rows, name="bring-in-rows"),
    path("in/<str:token>/to-mend.<str:kind>", bring_in.to_mend, name="bring-in-to-mend"),
    path("in/<str:token>/leave/", bring_in.leave, name="bring-in-leave"),
    path("out/", take_out.take_out, name="take-out"),
    path("out/table/", take_out.table, name="take-out-table"),
]
