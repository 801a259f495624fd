"""Addresses of the pages that only the demo has."""

from django.urls import path

from oneonone.web.views import demo

urlpatterns = [
    path("demo/clock/", demo.move_on, name="demo-move-on"),
    path("demo/mail/", demo.mail, name="demo-mail"),
]
