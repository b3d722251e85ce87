from __future__ import annotations

from django.urls import path

from jobs.office import customers, letters, links, new_date, orders, pieces, rescue, tell, views

urlpatterns = [
    path("", views.office, name="office"),
    path("date/", new_date.new_date, name="new-date"),
    path("date/ready/", new_date.date_ready, name="date-ready"),
    path("date/ways/", new_date.date_ways, name="date-ways"),
    path("new-job/", orders.new_job, name="new-job"),
    path("customers/", customers.customers, name="customers"),
    path("customers/new/", customers.new_customer, name="new-customer"),
    path("customers/<int:customer_id>/", customers.customer, name="customer"),
    path("customers/<int:customer_id>/delete/", customers.delete, name="delete-customer"),
    path("mails/<int:mail_id>/retry/", tell.retry, name="retry-mail"),
    path("notices/<int:notice_id>/letter.pdf", letters.notice_letter, name="notice-letter"),
    path("jobs/<str:number>/", views.job, name="job"),
    path("jobs/<str:number>/edit/", orders.edit_job, name="edit-job"),
    path("jobs/<str:number>/close/", orders.close, name="close-job"),
    path("jobs/<str:number>/reopen/", orders.reopen, name="reopen-job"),
    path("jobs/<str:number>/call-off/", orders.call_off, name="call-off-job"),
    path("jobs/<str:number>/restore/", orders.restore, name="restore-job"),
    path("jobs/<str:number>/delete/", orders.delete, name="delete-job"),
    path("jobs/<str:number>/new-piece/", pieces.new_piece, name="new-piece"),
    path("jobs/<str:number>/pieces/<str:letter>/", pieces.edit_piece, name="edit-piece"),
    path("jobs/<str:number>/pieces/<str:letter>/delete/", pieces.delete, name="delete-piece"),
    path("jobs/<str:number>/rescue/", rescue.rescue, name="rescue"),
    path("jobs/<str:number>/rescue/state/", rescue.state, name="rescue-state"),
    path("jobs/<str:number>/rescue/look/", rescue.look, name="rescue-look"),
    path("jobs/<str:number>/rescue/stop/", rescue.stop, name="rescue-stop"),
    path("jobs/<str:number>/rescue/take/", rescue.take, name="rescue-take"),
    path("jobs/<str:number>/tell/", tell.tell_page, name="tell"),
    path("jobs/<str:number>/tell/letter.pdf", letters.draft_letter, name="draft-letter"),
    path("jobs/<str:number>/letter.pdf", letters.job_letter, name="job-letter"),
    path("jobs/<str:number>/link/make/", links.make, name="make-link"),
    path("jobs/<str:number>/link/renew/", links.renew, name="renew-link"),
    path("jobs/<str:number>/link/close/", links.close_link, name="close-link"),
]
