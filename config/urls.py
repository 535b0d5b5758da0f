"""The site's addresses: each floor brings its own list."""

from django.urls import URLPattern, URLResolver, include, path

from config.running.figures import metrics
from config.running.health import health, ready

urlpatterns: list[URLPattern | URLResolver] = [
    path("health/", health, name="health"),
    path("ready/", ready, name="ready"),
    path("metrics/", metrics, name="metrics"),
    path("api/1/", include("config.api_urls")),
    path("", include("config.phone.urls")),
    path("", include("config.manual.urls")),
    path("", include("config.work.urls")),
    path("", include("accounts.sign_in.urls")),
    path("", include("accounts.tokens.urls")),
    path("", include("accounts.people.urls")),
    path("", include("accounts.invitations.urls")),
    path("", include("accounts.roles.urls")),
    path("", include("travel.district.urls")),
    path("", include("travel.places.urls")),
    path("", include("travel.reviews.urls")),
    path("", include("travel.drives.urls")),
    path("", include("caseload.plans.urls")),
    path("", include("caseload.care.urls")),
    path("", include("caseload.progress.urls")),
    path("", include("caseload.access.urls")),
    path("", include("caseload.teams.urls")),
    path("", include("schedule.calendar.urls")),
    path("", include("schedule.imports.urls")),
    path("", include("schedule.beginning.urls")),
    path("", include("schedule.terms.urls")),
    path("", include("schedule.aides.urls")),
    path("", include("schedule.joint.urls")),
    path("", include("schedule.meetings.urls")),
    path("", include("schedule.equipment.urls")),
    path("", include("schedule.class_hour.urls")),
    path("", include("schedule.stations.urls")),
    path("", include("schedule.weeks.urls")),
    path("", include("schedule.happenings.urls")),
    path("", include("schedule.day.urls")),
    path("", include("travel.mileage.urls")),
    path("", include("schedule.trips.urls")),
    path("", include("schedule.covers.urls")),
    path("", include("schedule.packet.urls")),
    path("", include("schedule.log.urls")),
    path("", include("schedule.closing.urls")),
    path("", include("schedule.attention.urls")),
    path("", include("schedule.workload.urls")),
    path("", include("schedule.together.urls")),
    path("", include("schedule.long_steps.urls")),
    path("", include("schedule.everybody.urls")),
    path("", include("schedule.assigning.urls")),
    path("", include("schedule.leaving.urls")),
    path("", include("schedule.next_year.urls")),
    path("", include("schedule.overview.urls")),
    path("", include("schedule.make_ups.urls")),
    path("", include("schedule.reports.urls")),
    path("", include("schedule.telling.urls")),
    path("", include("schedule.feeds.urls")),
    path("", include("schedule.notices.urls")),
    path("", include("schedule.erasing.urls")),
]

handler400 = "config.error_pages.bad_request"
handler403 = "config.error_pages.forbidden"
handler404 = "config.error_pages.not_found"
handler500 = "config.error_pages.server_error"
