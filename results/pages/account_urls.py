"""Addresses of accounts; those that allauth leads to have the names it knows them by."""

from django.urls import include, path, re_path

from . import account, account_data
from . import account_views as views

own = [
    path("", account.account, name="account"),
    path("own-data.zip", account_data.own_data, name="own-data"),
    path("delete/", account.delete, name="delete"),
    path("deleted/", account.deleted, name="deleted"),
]
allauth = [
    path("closed/", views.closed, name="account_inactive"),
    # /account/email/
    path("email/", views.address, name="account_email"),
    path("confirm/", views.mail_sent, name="account_email_verification_sent"),
    re_path(r"^confirm/(?P<key>[-:\w]+)/$", views.confirm_address, name="account_confirm_email"),
    # /account/password/
    path("password/", views.change_password, name="account_change_password"),
    path("password/set/", views.set_password, name="account_set_password"),
    path("password/again/", views.password_again, name="account_reauthenticate"),
    path("password/reset/", views.ask_for_reset, name="account_reset_password"),
    path("password/reset/asked/", views.reset_asked, name="account_reset_password_done"),
    path("password/reset/done/", views.password_reset, name="account_reset_password_from_key_done"),
    re_path(
        r"^password/reset/(?P<uidb36>[0-9A-Za-z]+)-(?P<key>.+)/$",
        views.reset_password,
        name="account_reset_password_from_key",
    ),
    # /account/second-factor/
    path("second-factor/", views.second_factor, name="mfa_index"),
    path("second-factor/code/", views.code, name="mfa_authenticate"),
    path("second-factor/again/", views.code_again, name="mfa_reauthenticate"),
    path("second-factor/on/", views.turn_on, name="mfa_activate_totp"),
    path("second-factor/off/", views.turn_off, name="mfa_deactivate_totp"),
    path("second-factor/recovery/", views.recovery_codes, name="mfa_view_recovery_codes"),
    path("second-factor/recovery/new/", views.new_recovery_codes, name="mfa_generate_recovery_codes"),
    path("second-factor/recovery/codes.txt", views.kept_recovery_codes, name="mfa_download_recovery_codes"),
]
# One address with two names: ours, and the one that allauth asks for.
doors = [
    path(address, view, name=name)
    for address, view, names in (
        ("login/", views.log_in, ("account_login", "login")),
        ("logout/", views.log_out, ("account_logout", "logout")),
        ("sign-up/", views.sign_up, ("account_signup", "sign-up")),
    )
    for name in names
]
urlpatterns = [*doors, path("account/", include((own, "account"))), path("account/", include(allauth))]
