"""Addresses of the pages that only the demo has."""

from django.urls import path

from oneonone.web.demo import demo_views

urlpatterns = [
    path("demo/clock/", demo_views.move_on, name="demo-move-on"),
    path("demo/mail/", demo_views.mail, name="demo-mail"),
]
