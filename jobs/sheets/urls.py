from __future__ import annotations

from django.urls import path

from jobs.sheets import views

urlpatterns = [
    path("tags.pdf", views.tags, name="tags-sheet"),
    path("route.pdf", views.route, name="route-sheet"),
    path("casts/<int:batch_id>/cast.pdf", views.cast, name="cast-sheet"),
    path("jobs/<str:number>/customer.pdf", views.customer, name="customer-sheet"),
    path("loads/", views.loads, name="loads"),
    path("load.pdf", views.load, name="load-sheet"),
]
