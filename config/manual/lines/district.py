"""Help on the pages of people, the district, calendars and messages, and on the manual itself."""

from config.manual.lines.asking import PageHelp, says

_KEEPING = "privacy#keeping-and-erasing-records"
_FEEDS, _TOLD = "calendars#your-days-in-the-phones-calendar", "calendars#messages"

_ACCOUNT = says(
    "Signing in with your district account.",
    "Sign in on your district’s own page; it leads back here.",
    "It lets in only whom the coordinator has added.",
    at="people#your-district-account",
)

DISTRICT: dict[str, PageHelp] = {
    "sign_in": says(
        "Sign in with the name and the password that the coordinator gave you.",
        "A given password works once; you then choose your own.",
        "Forgotten? Press I forgot my password, or ask the coordinator. Many wrong tries have to wait.",
        at="people#a-password",
    ),
    "provider": _ACCOUNT,
    "provider_back": _ACCOUNT,
    "signed_out": says(
        "You are signed out here.",
        "On a shared computer, sign out of your district account, too.",
        "What was tapped and isn’t sent yet stays.",
        at="people#your-district-account",
    ),
    "sign_in_factor": says(
        "The second step of signing in: your passkey, a code from your app, or one of your recovery codes.",
        "With it, somebody who has your password still can’t get in.",
        "Lost it all? The coordinator can remove the second step.",
        at="people#a-second-step",
    ),
    "own_sign_in": says(
        "How you sign in: password, second step, programs that ask in your name, and where you are signed in.",
        "End a sign-in that isn’t yours, and change the password then.",
        "Nobody else sees this page.",
        at="people#a-second-step",
    ),
    "open_session_end": says(
        "Ending a sign-in of yours elsewhere, such as on a computer that you have left.",
        "Your password is asked once more, so that nobody else can do it.",
        "What isn’t sent yet on a phone stays there.",
        at="people#a-second-step",
    ),
    "open_sessions_end_others": says(
        "Ending all your sign-ins but this one.",
        "Do it when a phone or a laptop is lost, and change the password then.",
        "This browser stays signed in; what isn’t sent yet on a phone stays there.",
        at="people#a-second-step",
    ),
    "factor_": says(
        "A second step for signing in: a passkey, or an app that shows codes.",
        "Add two if you can, so that one may be lost.",
        "Your password stays as it is.",
        at="people#a-second-step",
    ),
    "recovery_codes": says(
        "Codes for the day on which your passkey or your app is lost. Each works once.",
        "Print them, or write them down, and keep them apart from the phone.",
        "New ones end those that you had.",
        at="people#a-second-step",
    ),
    "token_": says(
        "A token by which another program asks in your name.",
        "Say which program, what it may do, and until when. The token is shown once.",
        "It may never do more than you may.",
        at="people#programs-in-your-name",
    ),
    "sign_in_rules": says(
        "What the district asks of signing in: for whom a second step is a must, and how long one stays signed in.",
        "Choose by role.",
        "Passwords and second steps themselves stay each person’s own.",
        at="people#a-second-step",
    ),
    "password_forgot": says(
        "Have a link sent by which you choose a new password.",
        "Type the mail address that the coordinator has for you. Without mail, ask the coordinator.",
        "The page doesn’t say whether an address is known.",
        at="people#a-password",
    ),
    "password_link": says(
        "Choose a password by the link that was mailed to you.",
        "It works once and for some hours. Have a new one sent if it has ended.",
        "A second step stays as it is.",
        at="people#a-password",
    ),
    "invitations": says(
        "Who hasn’t come in yet, who was invited and until when, who has come in.",
        "Choose people and the days, then send by mail or print slips; send one again or take it back.",
        "Nobody gets a second link unless you press for it.",
        at="people#invite-people",
    ),
    "invitations_": says(
        "Slips to hand over, one for each person, with a link that works once.",
        "Print the page before you leave it: the links are shown only now.",
        "A lost slip is taken back on the page before.",
        at="people#invite-people",
    ),
    "invitation_": says(
        "Choose your first password by the link that you were given.",
        "It works once and until the day that stands with it. Your coordinator has a new one made.",
        "Nobody else sees the password.",
        at="people#invite-people",
    ),
    "accesses": says(
        "Who looked at students other than their own, who took data out, and who signed in.",
        "Choose a person, a student, a kind or dates; take the list as a file.",
        "Teachers’ own students aren’t listed, but for files.",
        at="privacy#what-is-recorded",
    ),
    "retention": says(
        "How long the district keeps which records, what holds a student’s back, and what parents were told.",
        "Add a rule, then make a list of what it would erase. Neither erases anything.",
        "Without a rule records are kept without end.",
        at=_KEEPING,
    ),
    "retention_rule_": says(
        "How many years records of one kind are kept, counted from when, and who decided it.",
        "A change of mind gets a rule with a later first day; the earlier one stays to be read.",
        "Leave the years empty to keep the records without end.",
        at=_KEEPING,
    ),
    "erasure_hold_": says(
        "Why nothing of a student is erased, from when until when.",
        "Give it a last day once the dispute or case is over.",
        "It goes before every rule, and before a request of the parents.",
        at=_KEEPING,
    ),
    "parents_word_": says(
        "What parents were told, or asked for, on which day and how.",
        "Without it a student’s records stay, whatever the rules say.",
        "A request to destroy is carried out by a list of that one student.",
        at=_KEEPING,
    ),
    "erasure_": says(
        "What would be erased, and what is due and stays and why.",
        "Read all of it. Make the archives that somebody may still ask for. Then confirm.",
        "It can’t be taken back. If anything has changed since, nothing is erased.",
        at=_KEEPING,
    ),
    "permanent_records": says(
        "What is kept of students whose records are erased: name, grade, schools, classes and years.",
        "Whether it is kept stands in the rule; after a request of the parents it always is.",
        at=_KEEPING,
    ),
    "sign_out": says(
        "Sign out of this browser.",
        "What isn’t sent yet stays on the phone for you alone.",
        at="without-signal#not-sent-yet",
    ),
    "password_change": says(
        "Choose a password of your own.",
        "The coordinator can’t see it, and can give a new one.",
        "It isn’t the passcode of your phone.",
        at="people#a-password",
    ),
    "people": says(
        "Everybody who signs in: teachers, coordinators, school offices, substitutes, reviewers.",
        "Add somebody, give a new password, or deactivate who has left.",
        "Work of people who left stays.",
        at="people#add-somebody",
    ),
    "person_": says(
        "One person with a sign-in, and the roles that they have.",
        "A school office gets its schools here, a teacher who leaves a last day.",
        "Students, plans and rules are entered elsewhere.",
        at="people#add-somebody",
    ),
    "role_": says(
        "One of the roles of a person, from which day until which.",
        "The page says first what it opens and what ends; whoever has several works in one at a time.",
        "A role that has begun isn’t removed: it gets a last day.",
        at="people#several-roles",
    ),
    "substitution_": says(
        "Who covers whom, between which dates.",
        "The substitute sees that teacher’s days and students from the first to the last of them.",
        "Cover for single sessions, or by a link, is arranged from the absence.",
        at="people#a-substitution",
    ),
    "teams": says(
        "Teachers who share their caseloads, from which day until which. Teachers read here with whom they share.",
        "The coordinator adds a team, changes it, or gives it a last day.",
        "Nobody changes another’s students by it, and each page that shows one is recorded.",
        at="people#a-team",
    ),
    "team_": says(
        "Who shares a caseload, how far, and from which day until which.",
        "The page says first who would see how many students of whom.",
        "A team that has begun isn’t removed: it gets a last day.",
        at="people#a-team",
    ),
    "reviews": says(
        "Who looks at which buildings and dates, and for how long. A reviewer reads that for themselves here.",
        "Add a review to let a principal or an auditor look; change or delete it to end it.",
        "A reviewer changes nothing, and each page that shows a student is recorded.",
        at="people#a-review",
    ),
    "review_": says(
        "What one reviewer may see, and from which day until which they may look.",
        "Name buildings and dates as narrow as the review needs; the page says first what will be seen.",
        "Supports, cautions, contacts and goals are never part of it.",
        at="people#a-review",
    ),
    "beginning": says(
        "What a first week needs, in the order in which it can be entered.",
        "Each step says what is there and what is missing, and leads to the table and to the form for it.",
        "Come back at any time: it is worked out anew.",
        at="year#before-the-first-day",
    ),
    "district": says(
        "The district’s name, state and time zone, and what may leave the server for maps and addresses.",
        "Each service of others is off until you turn it on.",
        "Nothing about students is ever sent to them.",
        at="year#before-the-first-day",
    ),
    "work": says(
        "Work in the background that couldn’t be finished, such as a plan or an import.",
        "Start it again; a plan goes on from what it had found.",
        "What was refused stands on the page where it was asked for, not here.",
        at="year#work-that-broke-off",
    ),
    "district_change": says(
        "The district’s name, state and time zone.",
        "The state decides which public holidays are offered.",
        "Dates that are entered already stay.",
        at="year#before-the-first-day",
    ),
    "tile_source": says(
        "Where pictures below the lines of maps come from.",
        "Whoever serves them sees which part of the map you look at, and nothing else.",
        "Maps work without pictures.",
        at="privacy#what-leaves-the-server",
    ),
    "feeds": says(
        "Your days in the calendar of your phone or computer, by an address of your own.",
        "Make one and subscribe to it. Your own calendar can be read, too, so that nothing is planned over it.",
        "Who has the address reads the calendar: stop it if it got out.",
        at=_FEEDS,
    ),
    "feed_": says(
        "One address that calendars subscribe to, and what stands in it.",
        "Choose how students are called, and whether it reminds you to leave.",
        "The address is shown once. A new one ends the one before.",
        at=_FEEDS,
    ),
    "feed": says(
        "One address that calendars subscribe to: when it was last fetched, and what stands in it.",
        "Make a new address if it got out, or stop it.",
        "A calendar program asks when it likes, often only a few times a day.",
        at=_FEEDS,
    ),
    "busy_": says(
        "Your own calendar, so that no session is planned over your appointments.",
        "Give its address or a file.",
        "Only times are kept, never what an appointment is about.",
        at="calendars#your-own-calendar",
    ),
    "notices": says(
        "Messages that the program sent, and to whom.",
        "Read them, send one again that failed, or copy its text.",
        "Without a mail server nothing leaves, and the page says so.",
        at=_TOLD,
    ),
    "notice_": says(
        "What the district tells people, and the messages that were sent.",
        "A message that failed can be sent again or copied.",
        "Messages name no student unless the district allows it.",
        at=_TOLD,
    ),
    "hearing": says(
        "What you want to hear, and at which address.",
        "A test message tells that it works.",
        "Messages on a phone or computer are turned on there.",
        at=_TOLD,
    ),
    "name_rule_": says(
        "Whether messages may name students: by initials, by name, or not at all.",
        "It holds from its first day on, for mails and for devices apart.",
        "School offices and classroom teachers never get a student’s name.",
        at=_TOLD,
    ),
    "push_": says(
        "A phone or computer that shows messages while the program isn’t open.",
        "Test it, pause it, or take it away.",
        "Other devices of yours are turned on there.",
        at="calendars#messages-on-this-device",
    ),
    "manual": says(
        "How to do things here, chapter by chapter.",
        "Press ? on any page for the few lines about that page.",
        at="morning",
    ),
    "manual_": says(
        "One chapter of the manual, or all of them.",
        "Search with the browser’s own search, or print it.",
        at="morning",
    ),
    "error": says(
        "Something didn’t work. What you saved before is still there.",
        "Go back and try again, or begin at the start page.",
        "If it happens again, tell the coordinator what you did and when.",
        at="people#who-does-what",
    ),
}
