"""Addresses of routines, class hours and load lists."""

from django.urls import URLPattern, path

from schedule.class_hour.pages import hours, routines

urlpatterns: list[URLPattern] = [
    path("routines/", routines.routine_list, name="routine_list"),
    path("routines/new/", routines.RoutineFormPage.as_view(), name="routine_new"),
    path("routines/<id:pk>/", routines.routine_detail, name="routine_detail"),
    path("routines/<id:pk>/change/", routines.RoutineFormPage.as_view(), name="routine_change"),
    path("routines/<id:pk>/copy/", routines.routine_copy, name="routine_copy"),
    path("routines/<id:pk>/put-away/", routines.routine_away, name="routine_away"),
    path("routines/<id:pk>/bring-back/", routines.routine_back, name="routine_back"),
    path("routines/<id:routine>/parts/new/", routines.PartFormPage.as_view(), name="part_new"),
    path("routines/parts/<id:pk>/change/", routines.PartFormPage.as_view(), name="part_change"),
    path("routines/parts/<id:pk>/take-out/", routines.part_away, name="part_away"),
    path("routines/parts/<id:pk>/bring-back/", routines.part_back, name="part_back"),
    path("routines/parts/<id:pk>/move/", routines.part_move, name="part_move"),
    path("class-hour/<str:date>/<uuid:uid>/", hours.class_hour, name="class_hour"),
    path("class-hour/<str:date>/<uuid:uid>/routine/", hours.class_hour_choose, name="class_hour_choose"),
    path("week/<id:week_id>/equipment/", hours.week_equipment, name="week_equipment"),
    path("load/<str:date>/", hours.load_page, name="load_list"),
]
