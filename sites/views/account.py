"""Signing in and out."""

from __future__ import annotations

from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView


class SignIn(LoginView):
    template_name = "sign_in.html"
    http_method_names = ["get", "head", "post", "options"]
    form_class = AuthenticationForm
