"""Addresses of imports and their undo."""

from django.urls import URLPattern, path

from schedule.imports.pages import calendar_files, calendar_sources, own_tables, tables

urlpatterns: list[URLPattern] = [
    path("import/", tables.import_home, name="import_home"),
    path("import/tables/<slug:kind>/", tables.import_upload, name="import_upload"),
    path("import/tables/<slug:kind>/template.<slug:form>", tables.import_template, name="import_template"),
    path("import/tables/<slug:kind>/rows.<slug:form>", tables.import_export, name="import_export"),
    path("import/<id:pk>/", tables.import_preview_page, name="import_preview"),
    path("import/<id:pk>/columns/", own_tables.import_columns_page, name="import_columns"),
    path("import/<id:pk>/problems.csv", tables.import_problems, name="import_problems"),
    path("import/<id:pk>/commit/", tables.import_commit_action, name="import_commit"),
    path("import/<id:pk>/cancel/", tables.import_cancel_action, name="import_cancel"),
    path("import/<id:pk>/answer/", tables.import_answer_action, name="import_answer"),
    path("import/<id:pk>/undo/", tables.import_undo_action, name="import_undo"),
    path("import/calendar/", calendar_files.calendar_upload, name="calendar_import"),
    path("import/holidays/", calendar_files.holidays_upload, name="holidays_import"),
    path("calendar/addresses/new/", calendar_sources.CalendarSourceFormPage.as_view(), name="calendar_source_new"),
    path(
        "calendar/addresses/<id:pk>/change/",
        calendar_sources.CalendarSourceFormPage.as_view(),
        name="calendar_source_change",
    ),
    path(
        "calendar/addresses/<id:pk>/delete/",
        calendar_sources.CalendarSourceDeletePage.as_view(),
        name="calendar_source_delete",
    ),
    path("calendar/addresses/<id:pk>/read/", calendar_sources.read_again, name="calendar_source_read"),
    path("calendar/addresses/<id:pk>/look/", calendar_sources.look, name="calendar_source_look"),
    path("calendar/addresses/<id:pk>/save/", calendar_sources.save_plain, name="calendar_source_save"),
    path("calendar/addresses/<id:pk>/answer/", calendar_sources.answer, name="calendar_source_answer"),
]
