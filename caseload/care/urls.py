"""Addresses of care: ids only, never a name."""

from django.urls import URLPattern, path

from caseload.care.pages import district, seen, students, trying

urlpatterns: list[URLPattern] = [
    path("students/<id:student>/supports/new/", students.SupportFormPage.as_view(), name="support_new"),
    path("supports/<id:pk>/change/", students.SupportFormPage.as_view(), name="support_change"),
    path("supports/<id:pk>/delete/", students.SupportDeletePage.as_view(), name="support_delete"),
    path("students/<id:student>/cautions/new/", students.CautionFormPage.as_view(), name="caution_new"),
    path("cautions/<id:pk>/change/", students.CautionFormPage.as_view(), name="caution_change"),
    path("cautions/<id:pk>/delete/", students.CautionDeletePage.as_view(), name="caution_delete"),
    path("students/<id:student>/contacts/new/", students.ContactFormPage.as_view(), name="contact_new"),
    path("contacts/<id:pk>/change/", students.ContactFormPage.as_view(), name="contact_change"),
    path("contacts/<id:pk>/delete/", students.ContactDeletePage.as_view(), name="contact_delete"),
    path("students/<id:pk>/care/take-back/", students.care_take_back, name="care_take_back"),
    path("students/<id:pk>/tries/", trying.try_list, name="try_list"),
    path("students/<id:student>/tries/add/", trying.try_add, name="try_add"),
    path("tries/<id:pk>/seen/", trying.try_seen, name="try_seen"),
    path("tries/<id:pk>/delete/", trying.try_delete, name="try_delete"),
    path("students/<id:pk>/support-sheet/", trying.support_sheet, name="support_sheet"),
    path("classes/<id:pk>/contacts/", students.class_contacts, name="class_contacts"),
    path("classes/<id:school_class>/contacts/new/", students.ContactFormPage.as_view(), name="class_contact_new"),
    path("classes/<id:pk>/contacts/take-back/", students.class_contacts_take_back, name="class_contacts_take_back"),
    path("care/views/", seen.care_views_page, name="care_views"),
    path("caution-tags/", district.caution_tags, name="caution_tags"),
    path("caution-tags/take-back/", district.caution_tags_take_back, name="caution_tags_take_back"),
    path("caution-tags/new/", district.CautionTagFormPage.as_view(), name="caution_tag_new"),
    path("caution-tags/<id:pk>/change/", district.CautionTagFormPage.as_view(), name="caution_tag_change"),
    path("caution-tags/<id:pk>/delete/", district.CautionTagDeletePage.as_view(), name="caution_tag_delete"),
    path("caution-tags/parents/", district.CareSettingsPage.as_view(), name="care_settings"),
]
