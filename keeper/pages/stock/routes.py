"""Addresses of the stock, and of sales."""

from django.urls import URLPattern, path, re_path

from keeper.pages.stock import public, sales, views

urlpatterns: list[URLPattern] = [
    path("animals/stock/", views.stock, name="animals-stock"),
    path("animals/stock/public/", public.settings_of, name="animals-stock-public"),
    path("papers/stock/<str:code>/", public.page, name="papers-stock"),
    path("animals/<int:pk>/offer/", views.offer, name="animals-stock-offer"),
    path("animals/<int:pk>/offer/end/", views.take_off, name="animals-stock-end"),
    path("sales/new/", sales.new, name="animals-sale-new"),
    path("sales/<int:pk>/", sales.one, name="animals-sale"),
    path("sales/<int:pk>/change/", sales.change, name="animals-sale-edit"),
    path("sales/<int:pk>/withdraw/", sales.withdraw, name="animals-sale-withdraw"),
    re_path(
        r"^sales/(?P<pk>\d+)/(?P<step>hand-over|call-off|take-back)/$",
        sales.step,
        name="animals-sale-step",
    ),
    re_path(
        r"^sales/(?P<pk>\d+)/receipt-(?P<size>a4|a5|letter)\.pdf$",
        sales.receipt,
        name="animals-sale-receipt",
    ),
]
