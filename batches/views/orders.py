"""The orders: what was promised, how much of it has left, and closing them."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from batches.core.errors import NurseryError
from batches.forms.order import OrderForm
from batches.models import Order, Taxon
from batches.services.order_list import SHOWN, close_gone, orders_shown
from batches.services.orders import close_order, open_again, progress_of, record_order
from batches.views import clock
from batches.views.access import for_office
from batches.views.form_page import form_page
from batches.views.noting import note

ORDERS_A_PAGE = 50


@for_office
@require_http_methods(["GET", "POST"])
def orders(request: HttpRequest) -> HttpResponse:
    """List the orders by the day they are wanted; a POST closes those that are all gone."""
    if request.method == "POST":
        with transaction.atomic():
            closed = close_gone(today=clock.today())
            note(request, "orders closed", after=closed)
        messages.success(request, f"{closed} order{'s' if closed != 1 else ''} closed.")
        return redirect("batches:orders")
    show = request.GET.get("show", "to_go")
    show = show if show in dict(SHOWN) else "to_go"
    page = Paginator(orders_shown(show=show), ORDERS_A_PAGE).get_page(request.GET.get("page"))
    context = {
        "page": page,
        "rows": progress_of(orders=page.object_list),
        "show": show,
        "shown": SHOWN,
        "today": clock.today(),
        "new_href": reverse("batches:order-new"),
        "nothing_yet": not page.object_list and not Order.objects.exists(),
    }
    return render(request, "batches/orders/page.html", context)


@for_office
@require_http_methods(["GET", "POST"])
def order_new(request: HttpRequest) -> HttpResponse:
    """Write an order down."""
    if not Taxon.objects.exists():
        messages.warning(request, "An order is for a fern: name the fern first.")
        return redirect("batches:fern-new")
    form = OrderForm(request.POST or None, initial={"taxon": request.GET.get("fern", "")})
    if request.method == "POST" and form.is_valid():
        try:
            order = record_order(today=clock.today(), now=clock.now(), **form.cleaned_data)
        except NurseryError as error:
            form.refuse(error)
        else:
            messages.success(request, f"Order {order.code} is written down.")
            return redirect("batches:orders")
    return form_page(
        request,
        form,
        title="New order",
        submit="Store the order",
        crumbs=[("Orders", reverse("batches:orders")), ("New order", "")],
    )


@for_office
@require_POST
def order_close(request: HttpRequest, code: str) -> HttpResponse:
    """Close an order, or open it again."""
    order = get_object_or_404(Order, code=code)
    if request.POST.get("deed") == "open":
        with transaction.atomic():
            open_again(order=order)
            note(request, "order opened again", about=order.code)
        messages.success(request, f"Order {order.code} is open again.")
    else:
        with transaction.atomic():
            close_order(order=order, today=clock.today())
            note(request, "order closed", about=order.code)
        messages.success(request, f"Order {order.code} is closed.")
    return redirect("batches:orders")
