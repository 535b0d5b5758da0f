"""What each role may do, as named permissions (django-rules); what a person may see is the querysets' part."""

import rules

from accounts.models import Person


@rules.predicate
def is_member(person: Person) -> bool:
    """Signed in, active, in a district, and in a role that is held."""
    return bool(person.is_authenticated and person.is_active and person.district_id is not None and person.role)


@rules.predicate
def is_teacher(person: Person) -> bool:
    """Teaches a caseload."""
    return person.role == Person.Role.TEACHER


@rules.predicate
def is_coordinator(person: Person) -> bool:
    """Answers for the district."""
    return person.role == Person.Role.COORDINATOR


@rules.predicate
def is_substitute(person: Person) -> bool:
    """Stands in for a teacher between two dates."""
    return person.role == Person.Role.SUBSTITUTE


@rules.predicate
def is_reviewer(person: Person) -> bool:
    """Looks at some buildings and dates and changes nothing."""
    return person.is_reviewer


writes = is_member & (is_teacher | is_coordinator)

# Buildings, bells, spaces, calendar: shared by the whole district.
rules.add_perm("district.change", writes)
# Students, plans, service lines, classes.
rules.add_perm("caseload.view", is_member & (is_teacher | is_coordinator | is_substitute))
rules.add_perm("caseload.change", writes)
# Students, plans and services, what was logged, and reports of minutes: also for who only reviews them.
rules.add_perm("records.view", is_member & (is_teacher | is_coordinator | is_substitute | is_reviewer))
# Who was shown what is written about students' care: their teacher, and the coordinator.
rules.add_perm("care.views", writes)
# Who saw or took out what about students, and who signed in.
rules.add_perm("access.view", is_member & is_coordinator)
# How long which records are kept, and erasing them.
rules.add_perm("records.keep", is_member & is_coordinator)
# Reviews of buildings: one's own, and for a coordinator the district's.
rules.add_perm("reviews.view", is_member & (is_coordinator | is_reviewer))
# Weeks: plan, edit, publish.
rules.add_perm("week.view", is_member)
rules.add_perm("week.change", writes)
# Start and arrive taps of one's own day, or of a day that one covers: whoever drives it.
rules.add_perm("day.tap", is_member & (is_teacher | is_substitute))
# Who stands in for an absence: a teacher for the own, a coordinator for everyone's.
rules.add_perm("cover.arrange", writes)
# What was driven, as one's own: teachers and coordinators by hand, too; substitutes by taps.
rules.add_perm("drive.log", is_member & (is_teacher | is_coordinator | is_substitute))
# Imports and their undo.
rules.add_perm("import.run", writes)
# Who signs in, with which role, and who covers whom.
rules.add_perm("people.change", is_member & is_coordinator)
# The district's own name, state and time zone, and from where maps are loaded.
rules.add_perm("district.settings", is_member & is_coordinator)
# Weeks of several teachers, planned together.
rules.add_perm("together.plan", is_member & is_coordinator)
# Who serves whom from a day on: posts, proposals, taking one over.
rules.add_perm("assigning.plan", is_member & is_coordinator)
# The coming school year: its draft, starting it, taking it back.
rules.add_perm("next_year.plan", is_member & is_coordinator)
# Steps that write the records of many students in the background.
rules.add_perm("long_steps.watch", is_member & is_coordinator)
# What each teacher's week is made of, side by side.
rules.add_perm("workload.view", is_member & is_coordinator)
# How the whole district stands, added up.
rules.add_perm("overview.view", is_member & is_coordinator)
# What was delivered: read it, log it, record what a plan's team decided, set the district's rules.
rules.add_perm("log.view", is_member & (is_teacher | is_coordinator | is_substitute))
rules.add_perm("log.write", is_member & (is_teacher | is_coordinator | is_substitute))
rules.add_perm("log.decide", writes)
# Data on goals: whoever is there takes them, an aide by name.
rules.add_perm("data.take", is_member & (is_teacher | is_coordinator | is_substitute))
# Months of the log: a teacher signs the own, a coordinator closes and reopens them.
rules.add_perm("month.view", writes)
rules.add_perm("month.sign", is_member & is_teacher)
rules.add_perm("month.close", is_member & is_coordinator)
rules.add_perm("ledger.change", is_member & is_coordinator)
# Every session with every version of its log, as a file for an auditor.
rules.add_perm("audit.export", is_member & is_coordinator)
# Which miles the district pays, and at which rates.
rules.add_perm("mileage.rules", is_member & is_coordinator)
# Whoever drives says what was driven and claims it: teachers, and substitutes who stood in for one.
rules.add_perm("mileage.own", is_member & (is_teacher | is_substitute))
# One's own trips and vouchers, and for a coordinator the district's.
rules.add_perm("mileage.view", is_member & (is_teacher | is_coordinator | is_substitute))
# Teams that share a caseload: one's own, and for a coordinator the district's.
rules.add_perm("teams.view", is_member & (is_teacher | is_coordinator))
# Submitted vouchers: approve them, give them back, say that they are paid.
rules.add_perm("mileage.approve", is_member & is_coordinator)
