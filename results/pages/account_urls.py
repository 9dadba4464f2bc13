from django.urls import path

from . import account

urlpatterns = [
    # /sign-up/
    path("", account.sign_up, name="sign-up"),
]
