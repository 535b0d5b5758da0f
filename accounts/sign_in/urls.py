"""Addresses of signing in."""

from django.urls import URLPattern, path

from accounts.sign_in.pages import own, passwords, provider, rules, signing

urlpatterns: list[URLPattern] = [
    path("", signing.home, name="home"),
    path("sign-in/", signing.SignInView.as_view(), name="sign_in"),
    path("sign-in/second/", signing.FactorView.as_view(), name="sign_in_factor"),
    path("sign-in/provider/", provider.ProviderView.as_view(), name="provider"),
    path("sign-in/provider/back/", provider.provider_back, name="provider_back"),
    path("sign-in/provider/ended/", provider.provider_ended, name="provider_ended"),
    path("sign-out/done/", provider.signed_out, name="signed_out"),
    path("sign-out/", signing.SignOutView.as_view(), name="sign_out"),
    path("sign-in/own/", own.own_sign_in, name="own_sign_in"),
    path("sign-in/own/codes/", own.CodesPage.as_view(), name="factor_codes"),
    path("sign-in/own/passkey/", own.PasskeyPage.as_view(), name="factor_passkey"),
    path("sign-in/own/recovery/", own.RecoveryCodesPage.as_view(), name="recovery_codes"),
    path("sign-in/own/<id:pk>/remove/", own.FactorRemovePage.as_view(), name="factor_remove"),
    path("sign-in/sessions/<id:pk>/end/", own.SessionEndPage.as_view(), name="open_session_end"),
    path("sign-in/sessions/end-others/", own.OtherSessionsEndPage.as_view(), name="open_sessions_end_others"),
    path("district/signing-in/", rules.SignInRulesPage.as_view(), name="sign_in_rules"),
    path("people/<id:pk>/factors/", rules.person_factors, name="person_factors"),
    path("people/<id:pk>/account/", rules.person_account, name="person_account"),
    path("password/", passwords.ChangePasswordView.as_view(), name="password_change"),
    path("password/forgot/", passwords.ForgotPasswordView.as_view(), name="password_forgot"),
    path("password/link/<slug:uidb64>/<slug:token>/", passwords.PasswordLinkView.as_view(), name="password_link"),
]
