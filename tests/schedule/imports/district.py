"""A small invented district as the tables that a person would send, and short ways to send them."""

import csv
import io
from collections.abc import Iterable, Sequence
from typing import Any

from django.core import serializers

from accounts.models import AuditEntry, Person
from schedule.imports.files.problems import RowProblem
from schedule.imports.models import ImportBatch
from schedule.imports.rows.snapshot import WRITTEN_BY
from schedule.imports.services.tables import import_commit, import_preview
from schedule.imports.tables.every import tables_for

BUILDINGS = """\
Building code,Name,Level,Address,Latitude,Longitude,Time zone,Minutes to arrive,Minutes to leave
ELM,Elm Rise School,elementary,1 Rise Road,43.2,-75.1,,6,4
FEN,Fen Middle School,middle,2 Fen Road,43.3,-75.3,America/Chicago,5,3
"""
PEOPLE = """\
Sign-in name,First name,Last name,Mail address,Role,Role from,Role until,Buildings,Last day of work,Can sign in
nalder,Nan,Alder,nalder@example.org,substitute,2026-09-08,2027-06-18,,,yes
nalder,Nan,Alder,nalder@example.org,office,,,ELM; FEN,,yes
oquist,Otto,Quist,,reviewer,,,,2026-10-30,no
"""
BELLS = """\
Building code,Schedule name,Schedule kind,Passing minutes,Period name,Period kind,Start,End,Grades
ELM,Regular day,regular,5,Period 1,instruction,8:30,9:15,
ELM,Regular day,regular,5,Period 2,instruction,9:20,10:05,
ELM,Regular day,regular,5,Lunch K-2,lunch,11:00,11:30,K-2
ELM,Short day,early dismissal,5,Block 1,instruction,8:30,9:00,
FEN,Regular day,regular,4,Period 1,instruction,8:00,9:00,
"""
ROTATIONS = """\
Building code,Rotation name,Followed by grades,\
Rotation kind,Days in cycle,Labels,After a closed day,Known date,Label on known date
FEN,,,cycle,6,,next unused,2026-09-08,Day 1
FEN,Middle grades,6-8,ab weeks,,,fixed to date,2026-09-08,A
"""
BELL_DAYS = """\
Building code,Day,Schedule name
ELM,Wed,Short day
"""
WORDS = """\
Words,Stand for,Order
recess day,no students,50
grandparents' day,ordinary,
"""
SPACES = """\
Building code,Space name,Space kind,Classes that fit
ELM,Gym,gym,2
ELM,Field,field,3
FEN,Gym,gym,1
"""
SPACE_TIMES = """\
Building code,Space name,Days,Period,Start,End
ELM,Gym,"Mon,Wed",Period 2,,
ELM,Gym,Fri,,8:30,10:00
FEN,Gym,Day 3,Period 1,,
"""
CLASSES = """\
Building code,Class code,Name,Class kind,Class teacher,Grades,Ratio,Largest
ELM,RM4,Room 4,self contained,Mr. Aldous,K-2,8:1:1,8
ELM,2B,Class 2B,general,Ms. Orrin,2,,25
"""
YEARS = """\
School year,First day,Last day,Extended school year
2026-27,9/3/2026,6/18/2027,
Summer 2027,7/6/2027,8/13/2027,yes
"""
MARKING = """\
School year,Name,First day,Last day
2026-27,Quarter 1,2026-09-03,2026-11-06
2026-27,Quarter 2,2026-11-09,2027-01-29
"""
SPECIAL = """\
First day,Last day,Building code,What,Title,Schedule name,Opens at,Closes at
2026-11-26,2026-11-27,,closed,Fall break,,,
2026-12-23,,ELM,other bell,Concert,Short day,,
2027-02-12,,ELM,early dismissal,,,,11:30
"""
CLASS_DAYS = """\
Building code,Class code,What,Days,Start,End,First day,Last day
ELM,RM4,there,"Mon,Wed",8:30,11:30,2026-10-05,
ELM,RM4,lunch,first Wed,11:00,11:20,,
"""
CLASS_TIMES = """\
Building code,Class code,Days,Period,Start,End,Space name
ELM,2B,"Tue,Thu",Period 1,,,Gym
ELM,RM4,,,9:20,9:50,
"""
STUDENTS = """\
Student code,First name,Last name,Grade,Building code,Home class code,Supports
K01,Ola,Tarn,2,ELM,2B,"Walker; picture cards"
K02,Bo,Winn,K,ELM,RM4,
K03,Ash,Quill,7,FEN,,
"""
_PLAN_HEADERS = (
    "Student code,Plan start,Plan end,Annual review,Provisional,Statement,Service type,Setting,"
    "Pushed-into class,Largest group,Allowed spaces,Days apart,Provider"
)
PLANS = f"""\
{_PLAN_HEADERS}
K01,2026-09-08,2027-06-18,2027-05-03,no,2 x 30 min/week,direct,push in,2B,25,Gym,1,
K01,2026-09-08,2027-06-18,2027-05-03,no,20 min/month,consultation,one to one,,1,,1,
K01,2026-09-08,2027-06-18,2027-05-03,no,1 x 30 min/week,direct,one to one,,1,,1,mate
K02,9/8/2026,6/18/2027,,yes,3 x 30 min/week,direct,own class,,8,Gym; Field,1,
K03,2026-09-08,2027-06-18,,,1 x 45 min/6-day cycle,direct,one to one,,1,,2,
"""
JOINT = """\
Student code,Teacher,Statement,Setting,Together with,Their statement,Their setting,From,Until,Sessions a week
K01,teacher,2 x 30 min/week,push in,mate,,,2026-09-08,,1
"""
TAGS = """\
Tag
Chlorine
"""
HOLDS = """\
Student code,Reason,Days,Period,Start,End,First day,Last day
K01,speech,Tue,,10:00,10:30,,
K03,core,Day 2,Period 1,,,2026-10-01,2026-12-18
"""
SUPPORTS = """\
Student code,Kind,Text,Other student,Provisional,Source,Written on,Holds from,Holds until
K01,communication,Shows the picture of what is next,,,Note of the speech therapist,2026-09-02,,
K01,with,Walks in with,K02,,,,,
K02,sensory,Headphones in the gym,,yes,,,2026-09-14,2026-10-30
"""
CAUTIONS = """\
Student code,Kind,Text,Tags,Emergency steps,Who decides,Source,Written on,Holds from,Holds until
K01,medical,Seizures,height; water,"Note the time.
Call the nurse.",The school nurse,Seizure plan,2026-09-02,,
K03,behavioral,Leaves the room,,,,Behavior plan,,,
"""
CONTACTS = """\
Student code,Building code,Class code,Role,Name,Phone,Email,Note
K01,,,nurse,Runa Orre,555-0142 ext. 3,,Before 2 PM
K01,,,aide,Ms. Orel,555-0143,,
,ELM,RM4,teacher,Mr. Aldous,,aldous@example.org,
"""
AIDE_HOURS = """\
Student code,Building code,Class code,Name,From,Hours
K01,,,Ms. Orel,2026-09-08,Mon-Thu 8:00-11:30; Fri 8:00-10:00
K01,,,Ms. Orel,2027-03-01,
"""
ACTIVITIES = """\
Activity,What it is,Loud,Caution tags
Shadow walk,Partners copy each other's steps.,,
Cloth lake,"Small waves, big waves.",yes,contact; exertion
"""
EQUIPMENT = """\
Equipment,Building code,Teacher,Place,Count,Worn,Broken,Lent,Lent to
Poly spots,,,,12,2,0,0,
Poly spots,ELM,,Closet by the gym,8,0,1,2,Room 2
"""
ROUTINES = """\
Routine,Teacher,Variant,Building code,Class code,About,Attention minutes,On the shelf,Part,Part name,Activity,\
What happens,Cue,Minutes,Least minutes,If short,Space,Who leads,Notes for aides,Set up,Who sets up,Known,Far apart,\
Equipment
Room 4 lesson,,,ELM,RM4,Short parts,8,yes,warm up,,Shadow walk,,The drum stops,5,3,never falls out,,Teacher,,,,yes,,
Room 4 lesson,,,ELM,RM4,Short parts,8,yes,other,Spots,,Jump from spot to spot,,9,6,may fall out,Half court,,Wait,\
Spots in two rows,Aide,,yes,10 Poly spots
"""
GOALS = """\
Student code,Goal number,First day,Reached by,Goal,Under goal number,Baseline,Measure,Criterion,Sessions,Ended on
K01,1,2026-09-08,2027-05-28,Will catch a ball in 4 of 5 trials over 3 sessions,,1,,,,
K01,2,2026-09-08,2027-01-29,Will catch a rolled ball in 3 of 5 trials,1,,,,,2026-11-20
K02,1,2026-09-08,2027-05-28,Will enjoy moving with others,,,,,,
K03,1,2026-09-08,2027-05-28,Will walk with the group,,2,laps,6,2,
"""
GOAL_DATA = """\
Student code,Goal number,Day,Seen,Of trials,Taken by,Note
K01,1,2026-10-06,2,5,,
K01,1,2026-10-06,3,5,Bea Lund,Second set
K03,1,2026-10-07,2.5,,,
"""
STATIONS = """\
Station,What happens there,Activity,Students at a time,Adults,Minutes,Space,Caution tags,Equipment,Goals
Frog pond,Jump from spot to spot,Shadow walk,2,1,5,Half court,exertion,6 Poly spots,K01 1
Bag toss,,,3,,4,,,,
"""
RULES = """\
Teacher,Day begins at,Lunch minutes,Lunch not before,Lunch over by,Preparation minutes,Preparation counted per
,ELM,30,10:45,13:15,450,fortnight
"""
CONTRACT = """\
Weekday,Start,End
Monday,7:45,15:15
Tuesday,7:45,3:15 PM
"""
POSTS = """\
Teacher,From,Share of a full post,Home base,Field or license,Never goes to
teacher,2026-09-01,,,Adapted physical education,
mate,2026-09-01,60,ELM,Adapted physical education,
mate,2027-02-01,80,FEN,Adapted physical education,Elm Rise School
"""
MEETINGS = """\
Title,Weekday,Which of the month,Date,Start,End,Building code
Team meeting,Monday,,,14:30,15:10,ELM
Staff,Wednesday,First,,14:30,15:10,ELM
Review,,,2026-10-06,8:00,8:25,
"""
COMMON = """\
Title,Weekday,Which of the month,Date,From,Until,Start,End,Building code,Called by,In it,Asked
Team hour,Thursday,,,2026-09-08,,14:30,15:00,ELM,,,mate
Retreat,,,2026-11-03,,,8:00,8:25,,teacher,teacher,mate
"""
COVERS = """\
Teacher,Substitute,Name,First day,Last day,Only these sessions
teacher,substitute,,2026-10-05,2026-10-06,
,,Kim Aster,2025-10-14,2025-10-15,
"""
DRIVES = """\
From building,To building,Minutes,Miles,Both ways
ELM,FEN,14,8.4,yes
"""
TRIPS = """\
Teacher,Day driven,From building,To building,Which of several,Driven,Planned,There and back,Direct miles,\
Direct miles from,Driven miles,Odometer before,Odometer after,Parking,Tolls,Purpose,Note
,2025-10-06,ELM,FEN,,,,,,,8.9,,,2.50,,,Bridge closed
,2025-10-06,ELM,FEN,2,not driven,,,,,,,,,,,
,2025-11-04,,FEN,,driven,,yes,21.4,,,10100,10121.4,,1.75,Team day,
"""
VOUCHERS = """\
Teacher,Month,Supplement,Edition,State,Prices again,Rules,Submitted by,Submitted at,What became of it,Answers,Line,\
Trip,Takes back,Day driven,From,To,Purpose,Account code,Direct miles,Direct miles from,Driven miles,\
Odometer before,Odometer after,Miles from,Percent off the chart,Off the chart,Miles,Rate,Rate from,Amount,\
Total rounded,Parking,\
Tolls,Why,Note
teacher,2025-10-01,,,paid,,Every mile between schools.,teacher,2025-11-02T14:05:00.250000+00:00,\
"approved; 2025-11-03T14:00:00+00:00; coordinator;
paid; 2025-11-10T09:30:00+00:00; coordinator; Check 114",\
"[[""over/2025-10-06 ELM FEN 1/8.9"", ""Why so far?"", ""Bridge closed""]]",1,2025-10-06 ELM FEN 1,,2025-10-06,\
Elm Rise School,Fen Middle School,,,8.4,entered,8.9,,,planned,6,no,8.4,0.70,IRS 2025,5.88,,2.50,0,Chart,\
Bridge closed
teacher,2025-10-01,1,,open,yes,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,
"""
ALL = {
    "buildings": BUILDINGS,
    "people": PEOPLE,
    "bell-schedules": BELLS,
    "rotations": ROTATIONS,
    "bell-days": BELL_DAYS,
    "school-years": YEARS,
    "marking-periods": MARKING,
    "special-days": SPECIAL,
    "calendar-words": WORDS,
    "spaces": SPACES,
    "space-times": SPACE_TIMES,
    "classes": CLASSES,
    "class-days": CLASS_DAYS,
    "class-times": CLASS_TIMES,
    "students": STUDENTS,
    "plans": PLANS,
    "joint-sessions": JOINT,
    "student-holds": HOLDS,
    "caution-tags": TAGS,
    "supports": SUPPORTS,
    "cautions": CAUTIONS,
    "contacts": CONTACTS,
    "aide-hours": AIDE_HOURS,
    "goals": GOALS,
    "goal-data": GOAL_DATA,
    "teacher-rules": RULES,
    "contract-days": CONTRACT,
    "posts": POSTS,
    "meetings": MEETINGS,
    "common-meetings": COMMON,
    "covers": COVERS,
    "activities": ACTIVITIES,
    "equipment": EQUIPMENT,
    "routines": ROUTINES,
    "stations": STATIONS,
    "own-drive-times": DRIVES,
    "trips": TRIPS,
    "vouchers": VOUCHERS,
}


def preview(actor: Person, kind: str, text: str | bytes, filename: str = "") -> ImportBatch:
    """Send a table for preview."""
    content = text if isinstance(text, bytes) else text.encode()
    return import_preview(actor=actor, kind=kind, filename=filename or f"{kind}.csv", content=content)


def commit(actor: Person, kind: str, text: str | bytes) -> ImportBatch:
    """Send a table that must have no problems, and commit it."""
    batch = preview(actor, kind, text)
    assert problems(batch) == [], problems(batch)
    return import_commit(actor=actor, batch=batch)


def commit_all(actor: Person, kinds: Iterable[str] | None = None) -> list[ImportBatch]:
    """The whole small district, as far as the actor may bring it."""
    own = [table.kind for table in tables_for(actor.has_perm) if table.kind in ALL]
    return [commit(actor, kind, ALL[kind]) for kind in (own if kinds is None else kinds)]


def problems(batch: ImportBatch) -> list[RowProblem]:
    """What stops an import."""
    found = [RowProblem.from_json(stored) for stored in batch.content["problems"]]
    assert batch.problem_count == sum(not problem.warning for problem in found)
    return [problem for problem in found if not problem.warning]


def warnings(batch: ImportBatch) -> list[RowProblem]:
    """What doesn't stop it."""
    found = [RowProblem.from_json(stored) for stored in batch.content["problems"]]
    return [problem for problem in found if problem.warning]


def only_problem(batch: ImportBatch) -> RowProblem:
    """The one problem of a preview."""
    found = problems(batch)
    assert len(found) == 1, found
    return found[0]


def to_csv(headers: Sequence[str], rows: Iterable[Sequence[str]]) -> bytes:
    """A CSV file as a spreadsheet writes it."""
    stream = io.StringIO(newline="")
    csv.writer(stream).writerows([headers, *rows])
    return stream.getvalue().encode()


def dump_database() -> list[dict[str, Any]]:
    """Every row that imports can touch, in full, to hold one moment against another."""
    models = [model for written in WRITTEN_BY.values() for model in written]
    rows: list[dict[str, Any]] = []
    for model in dict.fromkeys(models):
        rows += serializers.serialize("python", model._meta.base_manager.order_by("pk"))
    return rows


def count_audit() -> int:
    """How many changes were written down."""
    return AuditEntry.objects.count()
