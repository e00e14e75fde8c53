"""Route of today's page."""

from django.urls import path

from sidelong.clinic.today.views import today

urlpatterns = [path("", today, name="today")]
