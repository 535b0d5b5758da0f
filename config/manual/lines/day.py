"""Help on the pages of a day: the day sheet, the class hour, the log, goals, and what happened."""

from config.manual.lines.asking import PageHelp, says

_SESSION = "logging#one-tap"

DAY: dict[str, PageHelp] = {
    "home": says("The page that you start on.", "It leads to what your role uses most.", at="morning"),
    "day": says(
        "Your day, stop by stop: when to leave, where to park, who comes, and what has happened to it.",
        "Tap Start driving and I’m here, when parked. A student’s name leads to supports and contacts.",
        "It changes no week. If something is different today, press Something happened.",
        at="morning#your-day-stop-by-stop",
    ),
    "day_": says(
        "One day, stop by stop: drives, sessions with their students, lunch, and what has happened to it.",
        "The arrows lead to the day before and after. Drives can be tapped on today’s page only.",
        "It changes no week. Moving a session is done on the week’s page.",
        at="morning#your-day-stop-by-stop",
    ),
    "load_list": says(
        "What to take along on this day, stop by stop.",
        "It says what is in the school’s closet, what rides in the car, and what is missing.",
        "It is worked out from the routines and stations: change those, and the list follows.",
        at="morning#what-to-load",
    ),
    "class_hour": says(
        "What happens in one session: its routine, fitted to the minutes that the class has on that day.",
        "Choose another routine for this day, or start the running view.",
        "Another day’s session stays as it is.",
        at="class-hour#one-session",
    ),
    "class_hour_run": says(
        "A session while it runs: the part now, the time left, and what comes next.",
        "Go on to the next part early, or give this one a minute more; the rest is fitted again.",
        "It logs nothing by itself, and it needs no signal once it is open.",
        at="class-hour#the-running-view",
    ),
    "routine_": says(
        "A routine: the parts that a class knows as its lesson, in order, with their minutes.",
        "Give it to a class or a group, and each of their sessions uses it. A variant is for other days.",
        "It plans no minutes: how long a class has is the week’s and the bells’ business.",
        at="class-hour#a-routine",
    ),
    "part_": says(
        "One part of a routine: what is done, how long, who leads it, what is set up.",
        "The least minutes say how far it may shrink on a short day.",
        "What is taken out of a routine can be brought back there.",
        at="class-hour#a-routine",
    ),
    "rotation": says(
        "Who is at which station in which round of this session.",
        "Change a place by hand, or have it worked out again when somebody is missing.",
        "It decides nothing about cautions: it says whom to ask first.",
        at="class-hour#stations",
    ),
    "rotation_": says(
        "The stations of one session: which ones, who is here, which adults help, how many rounds.",
        "Say what is different today, and who goes where is worked out from it.",
        "It holds for this session alone.",
        at="class-hour#stations",
    ),
    "station_": says(
        "Stations that the district’s teachers share: what is practiced, for how many, with which adults.",
        "Say which goals a station serves, and what equipment it takes.",
        "Who is at a station on which day is set at the session.",
        at="class-hour#stations",
    ),
    "activity_": says(
        "Activities of the district, with the equipment and the tags that cautions ask about.",
        "A tag such as height or water makes the program ask before the activity where a caution has it too.",
        "Without a tag nothing is asked. That doesn’t mean that nothing has to be asked.",
        at="class-hour#equipment",
    ),
    "equipment_": says(
        "Equipment: how much there is of each kind, and in which school’s closet or whose car.",
        "Tap what broke or was lent; load lists count with what is left.",
        "What is needed on a day is said in routines and stations.",
        at="class-hour#equipment",
    ),
    "stock_": says(
        "How much of one kind of equipment is in one place.",
        "Broken and lent pieces aren’t counted on; worn ones are.",
        "The last change can be taken back on the page of the kind.",
        at="class-hour#equipment",
    ),
    "week_equipment": says(
        "Whether the equipment is enough in one week, where several teachers want it at one time.",
        "Look here before you put a draft in force.",
        "It moves nothing: talk to whom it names, or change the routine.",
        at="class-hour#equipment",
    ),
    "data_": says(
        "Data on goals, one tap for each trial.",
        "Choose the student, tap what you saw. A full set is saved by itself.",
        "A saved point isn’t changed: take it back, and take it again.",
        at="goals#take-data",
    ),
    "goal_": says(
        "Measurable goals of a student’s plan, their data, and what the data say.",
        "Type the goal as the plan has it; the program shows what it can count in it.",
        "It never says that a goal is met. The plan’s team decides.",
        at="goals#write-a-goal",
    ),
    "goal_detail": says(
        "One goal: its data on a chart and in a table, with trend, aim line and criterion.",
        "Take data, mark a change in teaching, or end the goal.",
        "Under five days of data it names no trend. It never says that a goal is met: the team decides.",
        at="goals#what-the-data-say",
    ),
    "goal_rules": says(
        "How the district reads data: which last points are held against the aim line, and when data are missed.",
        "A rule holds from its first day on; before that the one before it.",
        "It changes no data.",
        at="goals#what-the-data-say",
    ),
    "goal_rules_": says(
        "One rule of the district about goals’ data, from a day on.",
        "Days before its first day keep the rule that they had.",
        "It changes no data.",
        at="goals#what-the-data-say",
    ),
    "phase_change_": says(
        "A day from which something about the teaching is otherwise: the chart gets a line there.",
        "The trend is worked out from the last such day on.",
        "It changes no data.",
        at="goals#what-the-data-say",
    ),
    "log": says(
        "What happened in each session of one day.",
        "Check who was absent, then log the session with one tap. Undo stands beside what was just logged.",
        "Minutes outside of any session are logged on the student’s page of minutes.",
        at=_SESSION,
    ),
    "log_session": says(
        "One session, student by student, where it wasn’t all as planned.",
        "Give a reason, the minutes that were given, or a note. Empty minutes mean all of them.",
        "What a reason makes of missed minutes is the district’s table, not this page.",
        at="logging#part-of-a-session",
    ),
    "log_undo": says(
        "What could be taken back of an entry, and what not.",
        "An entry that somebody has changed since is corrected instead.",
        "Nothing is deleted: the history keeps both.",
        at="logging#take-it-back",
    ),
    "log_entry": says(
        "One entry of the log with everything that was ever said of it.",
        "Correct it, or note what the team decided about missed minutes.",
        "Earlier versions stay to be read.",
        at="logging#take-it-back",
    ),
    "log_correct": says(
        "Correct what an entry says. Say why: the reason stays with it.",
        "The version before stays to be read.",
        "In a closed month it is refused, or kept apart as an amendment, as the district chose.",
        at="logging#take-it-back",
    ),
    "day_mark": says(
        "Sessions that fall out by the calendar, logged as missed with one press.",
        "Each gets the reason by which it falls out. One press takes it back.",
        "Nothing else of the day is logged.",
        at=_SESSION,
    ),
    "happenings": says(
        "One place to say that a day is different: ill, late, a school closed, a gym taken, a student absent.",
        "Choose what it is. You see what it does before it is saved.",
        "Holidays and staff days of the year are entered in the calendar.",
        at="something-happened#say-it",
    ),
    "happening_": says(
        "Say what happened, and when.",
        "The next page shows which sessions fall out, which drives change, and who will be told.",
        "Nothing is saved before you press Save there, and it can be taken back whole.",
        at="something-happened#see-what-it-does",
    ),
    "cover_": says(
        "Who stands in during an absence: somebody of the district, or anybody by a link.",
        "Choose the person, and the days or the sessions. You see what it does before it is saved.",
        "A link ends by itself. It opens that person’s days and nothing else.",
        at="something-happened#who-stands-in",
    ),
    "plan_rest": says(
        "The rest of the day or of the week, planned again after something happened.",
        "You get a draft that says what it changes, to accept or to discard.",
        "Nothing before now moves, and what was logged stays.",
        at="something-happened#the-rest-of-the-day",
    ),
    "packet": says(
        "All that somebody needs to stand in: cautions first, then each day with who comes and whom to ask.",
        "Print it, or make a link that ends by itself.",
        "Parents’ numbers are never in it.",
        at="standing-in#the-packet",
    ),
    "packet_": says(
        "What you need to stand in for a teacher on these days.",
        "Cautions with their emergency steps come first, then each day.",
        "The link ends by itself, and it is recorded when it is opened.",
        at="standing-in#by-a-link",
    ),
    "unsent": says(
        "What you tapped on this phone and the server doesn’t have yet.",
        "Correct an entry or take it back before it is sent. It is sent by itself when there is a signal.",
        "What was refused waits for you beside what stands now: neither goes by itself.",
        at="without-signal#not-sent-yet",
    ),
    "phone": says(
        "What this phone keeps for when there is no signal.",
        "Bring it up to date, set a passcode so that names are kept too, or stop and forget it all.",
        "Another phone has settings of its own.",
        at="without-signal#what-the-phone-keeps",
    ),
    "phone_": says(
        "There is no signal, and this page can’t be shown from the phone just now.",
        "Choose a day that is kept, or try again with a signal. A kept page may ask for the passcode.",
        "Nothing that you tapped is lost.",
        at="without-signal#when-there-is-no-signal",
    ),
}
