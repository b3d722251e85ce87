"""Pieces of a job: new, copied, changed, deleted."""

from __future__ import annotations

from typing import Any

from django.forms import model_to_dict
from django.http import Http404, HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from jobs.models import Job, Piece
from jobs.office.forms import PieceForm
from jobs.office.pages import FORM_METHODS, edit, job_or_404, press, said, show
from jobs.services import orders
from jobs.services.orders import suggested_letter
from shop.access import needs
from shop.forms import ShopModelForm
from shop.http import ShopRequest
from shop.models import Shop
from shop.services.errors import Refused

ALIKE = ("room", "mix", "route", "sealer", "thickness_m", "coat_m", "matches_job")


@needs("jobs.change")
@require_http_methods(FORM_METHODS)
def new_piece(request: ShopRequest, number: str) -> HttpResponse:
    job = job_or_404(number)
    form = PieceForm(request.POST or None, shop=request.shop, initial=suggested(request, job))
    if request.method == "POST" and form.is_valid():
        try:
            piece = orders.save_piece(job_id=job.pk, values=form.values)
            return after_adding(request, piece)
        except Refused as refusal:
            form.refuse(refusal)
    status = 422 if request.method == "POST" else 200
    return show(request, "office/piece.html", {"form": form, "job": job}, status)


def suggested(request: ShopRequest, job: Job) -> dict[str, Any]:
    """Everything of the piece that is copied; else what the job's last piece is made of."""
    start: dict[str, Any] = {
        "letter": suggested_letter(job),
        "thickness_m": usual(request.shop),
        "coat_m": usual_coat(request.shop),
    }
    pieces = list(job.pieces.order_by("letter"))
    copied = next((p for p in pieces if p.letter == request.GET.get("copy")), None)
    if copied:
        return model_to_dict(copied) | {"letter": start["letter"]}
    if pieces:
        return start | model_to_dict(pieces[-1], fields=ALIKE)
    return start


def usual(shop: Shop) -> float:
    """Three quarters of an inch, or the nearest round figure in millimetres."""
    return 0.01905 if shop.us else 0.019


def usual_coat(shop: Shop) -> float:
    """Three sixteenths of an inch, or four millimetres: common practice, no source."""
    return 0.0047625 if shop.us else 0.004


def after_adding(request: ShopRequest, piece: Piece) -> HttpResponse:
    message = _("%(code)s is added.") % {"code": piece.code}
    if "shape" in request.POST:
        return said(request, message, "piece-section", piece.code)
    if "another" in request.POST:
        return said(request, message, "new-piece", piece.job.number)
    return said(request, message, "job", piece.job.number)


@needs("jobs.change")
@require_http_methods(FORM_METHODS)
def edit_piece(request: ShopRequest, number: str, letter: str) -> HttpResponse:
    job = job_or_404(number)
    piece = piece_or_404(job, letter)

    def save(form: ShopModelForm) -> Piece:
        return orders.save_piece(
            job_id=job.pk, piece_id=piece.pk, version=form.own_version, values=form.values
        )

    return edit(
        request,
        form=PieceForm(request.POST or None, shop=request.shop, instance=piece_or_404(job, letter)),
        save=save,
        template="office/piece.html",
        done=lambda saved: said(
            request, _("%(code)s is saved.") % {"code": saved.code}, "job", job.number
        ),
        context={"job": job, "piece": piece, "marked": piece.marks.exists()},
    )


@needs("jobs.change")
@require_POST
def delete(request: ShopRequest, number: str, letter: str) -> HttpResponse:
    job = job_or_404(number)
    piece = piece_or_404(job, letter)

    def act() -> str:
        return _("%(code)s is deleted.") % {"code": orders.delete_piece(piece_id=piece.pk)}

    return press(request, act, to=("job", job.number))


def piece_or_404(job: Job, letter: str) -> Piece:
    piece = job.pieces.filter(letter=letter[:3]).first() if letter.isalpha() else None
    if piece is None:
        raise Http404
    return piece
