"""Addresses of imports and their undo."""

from django.urls import URLPattern, path

from schedule.views import calendar_imports, imports

urlpatterns: list[URLPattern] = [
    path("import/", imports.import_home, name="import_home"),
    path("import/tables/<slug:kind>/", imports.import_upload, name="import_upload"),
    path("import/tables/<slug:kind>/template.<slug:form>", imports.import_template, name="import_template"),
    path("import/tables/<slug:kind>/rows.<slug:form>", imports.import_export, name="import_export"),
    path("import/<int:pk>/", imports.import_preview_page, name="import_preview"),
    path("import/<int:pk>/problems.csv", imports.import_problems, name="import_problems"),
    path("import/<int:pk>/commit/", imports.import_commit_action, name="import_commit"),
    path("import/<int:pk>/cancel/", imports.import_cancel_action, name="import_cancel"),
    path("import/<int:pk>/undo/", imports.import_undo_action, name="import_undo"),
    path("import/calendar/", calendar_imports.calendar_upload, name="calendar_import"),
    path("import/holidays/", calendar_imports.holidays_upload, name="holidays_import"),
]
