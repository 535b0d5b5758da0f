"""Addresses of keeping records: ids only."""

from django.urls import URLPattern, path

from schedule.erasing import pages

urlpatterns: list[URLPattern] = [
    path("retention/", pages.retention, name="retention"),
    path("retention/rules/new/", pages.RetentionRuleFormPage.as_view(), name="retention_rule_new"),
    path("retention/rules/<id:pk>/change/", pages.RetentionRuleFormPage.as_view(), name="retention_rule_change"),
    path("retention/rules/<id:pk>/delete/", pages.RetentionRuleDeletePage.as_view(), name="retention_rule_delete"),
    path("retention/holds/new/", pages.ErasureHoldFormPage.as_view(), name="erasure_hold_new"),
    path("retention/holds/<id:pk>/change/", pages.ErasureHoldFormPage.as_view(), name="erasure_hold_change"),
    path("retention/holds/<id:pk>/delete/", pages.ErasureHoldDeletePage.as_view(), name="erasure_hold_delete"),
    path("retention/parents/new/", pages.ParentsWordFormPage.as_view(), name="parents_word_new"),
    path("retention/parents/<id:pk>/change/", pages.ParentsWordFormPage.as_view(), name="parents_word_change"),
    path("retention/parents/<id:pk>/delete/", pages.ParentsWordDeletePage.as_view(), name="parents_word_delete"),
    path("retention/lists/new/", pages.erasure_list_new, name="erasure_list_new"),
    path("retention/lists/<id:pk>/", pages.erasure_list_page, name="erasure_list"),
    path("retention/lists/<id:pk>/confirm/", pages.erasure_list_confirm, name="erasure_confirm"),
    path("retention/permanent/", pages.permanent_records, name="permanent_records"),
]
