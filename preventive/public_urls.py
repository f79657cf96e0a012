"""What owners, and whoever they show a certificate to, reach under PUBLIC_URL."""

from django.urls import path

from preventive.views import certificate

urlpatterns = [path("certificates/check/", certificate.check, name="certificate-check")]
