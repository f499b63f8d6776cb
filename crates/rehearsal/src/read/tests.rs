//! Proves that a diary is read as it stands, and that everything wrong with one is said at once, where it stands.

use super::*;
use crate::diary::{Entry, How};
use rungwise_engine::fact::{FactKind, Value};
use rungwise_pack::diagnostic::{Style, render};
use rungwise_pack::quantity::Milli;
use rungwise_pack::source::SourceFiles;

/// A pack of one exercise, for these tests alone.
const PACK: [(&str, &str); 6] = [
    ("pack.toml", include_str!("tests/pack.toml")),
    ("measures.toml", include_str!("tests/measures.toml")),
    ("screening.toml", include_str!("tests/screening.toml")),
    ("phases.toml", include_str!("tests/phases.toml")),
    ("exercises.toml", include_str!("tests/exercises.toml")),
    ("text/en.toml", include_str!("tests/en.toml")),
];

pub(crate) fn files() -> SourceFiles {
    let files = PACK
        .iter()
        .map(|(name, text)| ((*name).to_owned(), (*text).to_owned()));
    SourceFiles::new(files.collect())
}

pub(crate) fn pack() -> CheckedPack {
    let files = files();
    let checked = rungwise_pack::check(&files);
    checked
        .pack
        .unwrap_or_else(|| panic!("{}", render(&files, &checked.diagnostics, Style::Plain)))
}

fn ok(text: &str) -> Diary {
    read(&pack(), "diaries/x.toml", text).unwrap_or_else(|found| panic!("{}", said(text, &found)))
}

fn said(text: &str, found: &[Diagnostic]) -> String {
    let files = SourceFiles::new(vec![("diaries/x.toml".to_owned(), text.to_owned())]);
    render(&files, found, Style::Plain)
}

/// Each diagnostic as `line:column code message | help`.
fn wrong(text: &str) -> Vec<String> {
    let found = read(&pack(), "diaries/x.toml", text).unwrap_err();
    found
        .iter()
        .map(|one| {
            let help = one
                .help
                .as_deref()
                .map(|help| format!(" | {help}"))
                .unwrap_or_default();
            format!(
                "{}:{} {} {}{help}",
                one.line,
                one.column,
                one.code.id(),
                one.message
            )
        })
        .collect()
}

const HEAD: &str = "diary = \"x\"\nabout = \"Invented: for a test.\"\nopened = \"2026-01-05\"\n";

#[test]
fn a_repeated_day_is_told_on_each_date_with_its_morning_before_the_next_day() {
    let diary = ok(&format!(
        "{HEAD}[usual]\nexercise = {{ pain = 1 }}\nmorning_after = {{ ache = 2 }}\n\
         [[day]]\ndate = \"2026-01-06\"\nuntil = \"2026-01-08\"\nevery = 2\nsession = [{{ next_morning = {{}} }}]\n\
         [[day]]\ndate = \"2026-01-07\"\nexpect = {{ outcome = \"HOLD\" }}\n"
    ));
    let told: Vec<String> = diary
        .steps
        .iter()
        .map(|step| {
            let kinds: Vec<&str> = step
                .entries
                .iter()
                .map(|entry| match entry {
                    Entry::Session(_) => "session",
                    Entry::Fact(fact) if matches!(fact.kind, FactKind::MorningAfter(_)) => {
                        "morning"
                    }
                    _ => "other",
                })
                .collect();
            format!("{} {} {}", step.date, kinds.join(","), step.ask.is_some())
        })
        .collect();
    let wanted = [
        "2026-01-06 session false",
        "2026-01-07 morning false",
        "2026-01-07  true",
        "2026-01-08 session false",
        "2026-01-09 morning false",
    ];
    assert_eq!(told, wanted);
}

#[test]
fn what_is_usual_fills_in_what_a_day_does_not_say() {
    let diary = ok(&format!(
        "{HEAD}[usual]\nsession = {{ before = 3 }}\nexercise = {{ pain = 1 }}\n\
         [[day]]\ndate = \"2026-01-06\"\nsession = [{{ not_reported = [\"before\"], exercises = {{ hold-still = {{ readings = {{ pain = \"could not\" }} }} }} }}]\n"
    ));
    let Entry::Session(plan) = &diary.steps[0].entries[0] else {
        panic!("{diary:?}")
    };
    assert!(plan.readings.is_empty());
    assert_eq!(plan.exercises[0].how, How::AsPrescribed);
    assert_eq!(plan.exercises[0].readings[0].value, Value::CouldNot);
    assert_eq!(
        plan.rest.as_ref().unwrap()[0].value,
        Value::Number(rungwise_pack::quantity::Milli::whole(1))
    );
}

#[test]
fn a_day_told_late_keeps_its_own_date() {
    let diary = ok(&format!(
        "{HEAD}[[day]]\ndate = \"2026-01-06\"\nreported = \"2026-01-09\"\nevents = [\"fall\"]\n"
    ));
    assert_eq!(diary.steps[0].date.to_string(), "2026-01-09");
    assert_eq!(diary.steps[0].entries[0].date().to_string(), "2026-01-06");
}

#[test]
fn everything_wrong_is_said_at_once_and_where_it_stands() {
    let text = "diary = \"x\"\nopened = \"2026-13-05\"\n\
        [[day]]\ndate = \"2026-01-06\"\nsesion = []\nevents = [\"fal\"]\nassessment = { raech = 1, reach = 999 }\n\
        screening = { pain = 1 }\nexpect = { outcome = \"PROGRES\", phase = \"frist\", moves = { lifts = \"KEEP\" } }\n\
        [[day]]\nsession = [{ exercises = { hold-stil = { skipped = \"pane\" } } }]\n\
        [[day]]\ndate = \"2026-01-08\"\nuntil = \"2026-01-07\"\n";
    let wanted = [
        "1:1 RW0103 the diary has no `about`",
        "2:10 RW0102 `opened` `2026-13-05` is not a date | write year, month and day, such as `2026-01-05`",
        "5:1 RW0101 a day has no key `sesion` | did you mean `session`?",
        "6:11 RW0202 no kind of event is called `fal` | did you mean `fall`?",
        "7:16 RW0202 unknown measure `raech` | did you mean `reach`?",
        "7:35 RW0305 999 deg is out of range | 0 to 180 deg",
        "8:15 RW0202 `pain` is not reported here | report it with an exercise of a session",
        "9:22 RW0104 `outcome` cannot be `PROGRES` | did you mean `PROGRESS`?",
        "9:41 RW0202 no phase is called `frist` | did you mean `first`?",
        "9:60 RW0202 no line is called `lifts` | did you mean `lift`?",
        "10:1 RW0103 a day has no `date`",
        "11:28 RW0202 no exercise is called `hold-stil` | did you mean `hold-still`?",
        "11:52 RW0104 `skipped` cannot be `pane` | one of `pain`, `otherwise`",
        "12:1 RW0106 the day is repeated until 2026-01-07, before it is",
    ];
    assert_eq!(wrong(text), wanted);
}

#[test]
fn what_the_pack_refuses_in_the_course_is_said_with_its_day() {
    let text = format!(
        "{HEAD}[usual]\nexercise = {{ pain = 1 }}\n\
         [[day]]\ndate = \"2026-01-06\"\nsession = [{{}}, {{}}]\n\
         [[day]]\ndate = \"2026-01-09\"\nmorning_after = {{ ache = 1 }}\n"
    );
    let wanted = [
        "6:1 RW0108 on 2026-01-06, session.number: session 1 of 2026-01-06 was reported already | give a second session of the day its own number, or correct the first",
        "9:1 RW0108 on 2026-01-09, morning_after.session_date: no session of 2026-01-08 was reported | report the session first, or give its date",
    ];
    assert_eq!(wrong(&text), wanted);
}

#[test]
fn text_that_is_no_toml_is_said_where_it_breaks() {
    let found = wrong("diary = \n");
    assert!(
        found[0].starts_with("1:") && found[0].contains("RW0005 not valid TOML"),
        "{found:?}"
    );
}

#[test]
fn directives_are_read_with_their_values() {
    let diary = ok(&format!(
        "{HEAD}[[day]]\ndate = \"2026-01-06\"\n\
         [[day.directive]]\norder = \"cap\"\nwho = \"an invented clinician\"\nwhy = \"for a test\"\nuntil = \"2026-02-01\"\nvariable = \"reps\"\nat_most = 8\n\
         [[day.directive]]\norder = \"place\"\nwho = \"an invented clinician\"\nwhy = \"for a test\"\nphase = \"last\"\nplaces = {{ push = {{ reps = 10 }} }}\n"
    ));
    assert_eq!(diary.steps[0].entries.len(), 2);
    let unknown = format!(
        "{HEAD}[[day]]\ndate = \"2026-01-06\"\n[[day.directive]]\norder = \"hold\"\nwho = \"x\"\nwhy = \"y\"\nexercise = \"push\"\n"
    );
    let wanted = [
        "10:1 RW0101 a directive has no key `exercise` | its keys are `who`, `why`, `until`, `order`",
    ];
    assert_eq!(wrong(&unknown), wanted);
}

/// A diary owns bands; what a point or a length cannot be is said where it stands.
#[test]
fn bands_are_read_with_their_points_and_the_room() {
    let band = "label = \"light\"\nrest_length_mm = 1000\npoints = [[50, 8], [100, 15.5]]\nelongation_max = 100\n";
    let day = |band: &str| {
        format!("{HEAD}[[day]]\ndate = \"2026-01-06\"\nroom_mm = 2500\n[[day.band]]\n{band}")
    };
    let diary = ok(&day(&format!("{band}may_be_doubled = true\n")));
    let [Entry::Fact(fact)] = diary.steps[0].entries.as_slice() else {
        panic!("{:?}", diary.steps)
    };
    let FactKind::Equipment(equipment) = &fact.kind else {
        panic!("{fact:?}")
    };
    assert_eq!((equipment.owned.len(), equipment.room_mm), (0, Some(2500)));
    let light = &equipment.bands[0];
    assert_eq!((&*light.label, light.rest_length_mm), ("light", 1000));
    assert_eq!(light.elongation_max, Milli::whole(100));
    assert!(light.may_be_doubled);
    let points = light
        .points
        .iter()
        .map(|point| (point.elongation, point.force));
    let expected = [
        (Milli::whole(50), Milli::whole(8)),
        (Milli::whole(100), Milli(15_500)),
    ];
    assert_eq!(points.collect::<Vec<_>>(), expected);
    for (from, to, expected) in [
        (
            "[50, 8]",
            "[50]",
            "10:11 RW0102 a point of a band is an elongation in % and a force in N | such as `[50, 8.5]`",
        ),
        (
            "15.5",
            "15.5555",
            "10:26 RW0105 a force is finer than thousandths",
        ),
        (
            "= 1000",
            "= -1000",
            "9:18 RW0106 `rest_length_mm` cannot be -1000 | a whole number from 1 to 10000",
        ),
        ("elongation_max", "elongation_most", "7:"),
    ] {
        let found = wrong(&day(&band.replace(from, to)));
        assert!(
            found.iter().any(|one| one.starts_with(expected)),
            "{from} {to}: {found:?}"
        );
    }
}
