// Reads a calendar from standard input with ical.js and prints its events as JSON.
const module_place = process.argv[2];
import(module_place).then(({default: ICAL}) => {
  const text = require("fs").readFileSync(0, "utf8");
  const calendar = new ICAL.Component(ICAL.parse(text));
  for (const zone of calendar.getAllSubcomponents("vtimezone")) {
    ICAL.TimezoneService.register(new ICAL.Timezone(zone));
  }
  const moment = (time) => time.isDate ? time.toString() : time.toJSDate().toISOString().slice(0, 19);
  const found = calendar.getAllSubcomponents("vevent").map((component) => {
    const event = new ICAL.Event(component);
    return [event.uid, moment(event.startDate), moment(event.endDate), event.summary, event.location || ""];
  });
  process.stdout.write(JSON.stringify(found));
});
