from __future__ import annotations

from django.urls import path

from jobs.office import customer

urlpatterns = [
    path("p/<str:token>/", customer.page, name="customer-page"),
    path("p/<str:token>/date.ics", customer.calendar, name="customer-calendar"),
    path("p/<str:token>/sheet.pdf", customer.sheet, name="customer-own-sheet"),
]
