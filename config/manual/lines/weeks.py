"""Help on the pages of weeks and the term: planning, looking, changing, publishing."""

from config.manual.lines.asking import PageHelp, says

WEEKS: dict[str, PageHelp] = {
    "week": says(
        "The week in force: drawn as a strip, and below it as a table.",
        "Each row of the strip is a day; the path steps between schools.",
        "Change this week makes a draft: the week stays as it is until you publish.",
        at="weeks#look-at-a-week",
    ),
    "week_": says(
        "One version of a week: a draft, or one that is or was in force.",
        "Compare it, edit it, publish it, or bring an earlier one back.",
        "A published version is never changed; a change is a new one.",
        at="weeks#look-at-a-week",
    ),
    "week_version": says(
        "One version of the week, as it was saved.",
        "A draft can be edited, compared and published here.",
        "Nobody but you and the coordinator sees a draft.",
        at="weeks#look-at-a-week",
    ),
    "week_versions": says(
        "Every version of one week: drafts, the one in force, and those before.",
        "Open one, compare it, or bring an earlier one back.",
        "Versions are never changed. Discarding takes away a draft only.",
        at="weeks#put-it-in-force",
    ),
    "week_print": says(
        "The week on one page, for the office wall.",
        "Print it from the browser.",
        "No student’s name stands on it.",
        at="weeks#look-at-a-week",
    ),
    "week_edit": says(
        "A draft, to be changed by hand.",
        "Move a session by mouse or by its form, pin it, take it out, or place what has no place yet.",
        "A rule that is broken is named. A draft that breaks one isn’t published.",
        at="weeks#change-a-week-by-hand",
    ),
    "session_": says(
        "One session of a draft: moved, pinned or taken out.",
        "Undo the last change takes it back.",
        "The week in force stays as it is until you publish the draft.",
        at="weeks#change-a-week-by-hand",
    ),
    "unplaced_": says(
        "A session that is owed and has no place in the draft yet.",
        "Choose one of the times that it could have.",
        "The week in force stays as it is until you publish the draft.",
        at="weeks#change-a-week-by-hand",
    ),
    "week_compare": says(
        "A draft beside the week in force: what moves, what is new, what drives differ.",
        "Ask what would help, or what keeping usual times costs.",
        "Comparing changes nothing.",
        at="weeks#ask-for-what-would-help",
    ),
    "week_question": says(
        "An answer that is worked out beside a draft: what to ask of a school, or what staying the same costs.",
        "It says how sure each figure is.",
        "Nothing is asked of anybody for you.",
        at="weeks#ask-for-what-would-help",
    ),
    "plan": says(
        "Plan one or more weeks: every owed minute, little driving, lunch and preparation kept.",
        "Choose the dates and what comes first. It becomes a draft.",
        "Nothing is in force before you publish it.",
        at="weeks#plan-a-week",
    ),
    "plan_run": says(
        "What the search has found so far, and what it still looks for.",
        "Stopping keeps the best week found so far.",
        "You can leave this page: the search goes on.",
        at="weeks#plan-a-week",
    ),
    "together": says(
        "One week of several teachers who share students, classes or spaces, planned as one.",
        "Choose the teachers and a week that is ahead. Each gets a draft.",
        "Nothing is in force before it is published.",
        at="weeks#plan-a-week",
    ),
    "together_": says(
        "What planning several teachers together has found: a draft for each, and who gives way to whom.",
        "Publish all drafts, or leave each to its teacher.",
        "Stopping keeps the best weeks found so far.",
        at="weeks#plan-a-week",
    ),
    "terms": says(
        "One timetable for the term: the same class at the same time, with the fewest exceptions.",
        "Plan one, or open one that is there.",
        "Single weeks can still be changed afterward.",
        at="weeks#one-timetable-for-the-term",
    ),
    "term": says(
        "A term’s timetable and its weeks, with each exception and its reason.",
        "Publish it whole, compare what usual times cost, or take it back.",
        "Weeks that are in force stay until you publish.",
        at="weeks#one-timetable-for-the-term",
    ),
    "term_": says(
        "Plan the weeks between two dates together, or look at what came of it.",
        "Say what keeping a usual time is worth, in minutes of driving a week.",
        "Nothing is in force before you publish it.",
        at="weeks#one-timetable-for-the-term",
    ),
    "standing_publish": says(
        "The standing timetable of a term, put in force.",
        "Weeks that are planned from then on keep to it.",
        "It can be taken back on the term’s page.",
        at="weeks#one-timetable-for-the-term",
    ),
    "teacher_rules": says(
        "How a teacher works: contract hours, lunch, preparation, group sizes, meetings.",
        "Weeks that are planned from then on keep to it.",
        "Weeks in force stay as they are.",
        at="weeks#your-rules",
    ),
    "teacher_rules_": says(
        "How a teacher works: lunch, preparation, setting up, sizes and mixes of groups.",
        "Weeks that are planned from then on keep to it.",
        "Weeks in force stay as they are.",
        at="weeks#your-rules",
    ),
    "contract_hours": says(
        "From when to when you work on each weekday, from a day on.",
        "Leave a weekday empty on which you don’t work.",
        "Weeks in force stay as they are.",
        at="weeks#your-rules",
    ),
    "meeting_": says(
        "A meeting that comes again, such as the team’s on Wednesdays.",
        "No session is planned in its time; where it has a school, you drive there.",
        "One that is only once is better kept in your own calendar.",
        at="weeks#your-rules",
    ),
    "attention": says(
        "What waits to be done, the most urgent first, with why.",
        "Begin at the top. One press plans the make-ups of what has one cause.",
        "It doesn’t judge whether a plan is being followed: the team decides.",
        at="minutes#who-needs-attention-first",
    ),
    "attention_": says(
        "Make-ups for everything that has one cause, such as a day of snow.",
        "They are drafts, to be looked at and published.",
        "Nothing is booked before.",
        at="minutes#who-needs-attention-first",
    ),
    "make_ups": says(
        "Minutes that wait to be made up, by service and by cause.",
        "Open one to see times with the miles that they add, or plan many together.",
        "What the team still has to decide isn’t in it.",
        at="minutes#make-ups",
    ),
    "make_up_": says(
        "Times at which missed minutes of one service could be made up, with the miles that each adds.",
        "Book one: it is in your week at once. It can be canceled.",
        "Nobody is told before it is booked.",
        at="minutes#make-ups",
    ),
    "make_ups_": says(
        "What could still be made up, with times that add the fewest miles first.",
        "Book what you choose.",
        "Nothing is moved for it.",
        at="minutes#make-ups",
    ),
    "changes_": says(
        "What changed of the coming days since you last looked.",
        "Press Seen when you have read it; for ten minutes it can be shown again.",
        "What you changed yourself isn’t listed.",
        at="calendars#what-changed",
    ),
}
