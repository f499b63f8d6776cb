//! A person of whom everything is as good as can be, save what a test says: a diary written line by line and played.
//!
//! Leaves to others: the check values (the files beside this one).

use jiff::ToSpan;
use jiff::civil::{Date, date};
use rungwise_engine::decision::{Decision, Move, RuleVerdict};
use rungwise_engine::ladder;
use rungwise_pack::model::{Carrier, CheckedPack, MeasureKind, Origin, RowValue, Worse};
use rungwise_pack::quantity::Variable;
use rungwise_pack::source::SourceFiles;
use rungwise_rehearsal::diary;
use rungwise_rehearsal::play::{Played, play, prescribed};
use std::fmt::Write as _;
use std::path::Path;
use std::sync::OnceLock;

const OPENED: Date = date(2026, 1, 5);

/// What an assessment says unless a test says otherwise; the other side lifts to 165 deg and is sound.
const ASSESSMENT: [(&str, &str); 4] = [
    ("\"active elevation\"", "160"),
    ("\"hitch when lifting\"", "\"absent\""),
    ("\"manual strength\"", "5"),
    ("\"pain at rest\"", "0"),
];

/// The pack `rules/rotator-cuff`.
pub(crate) fn pack() -> &'static CheckedPack {
    static PACK: OnceLock<CheckedPack> = OnceLock::new();
    PACK.get_or_init(|| load("rotator-cuff"))
}

/// A pack of this repository, its diaries left out.
pub(crate) fn load(name: &str) -> CheckedPack {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../rules")
        .join(name);
    rungwise_pack::check(&SourceFiles::new(texts(&root)))
        .pack
        .expect("the pack is accepted")
}

/// The files of a pack's folder that make the pack, with their names.
pub(crate) fn texts(root: &Path) -> Vec<(String, String)> {
    let names = [
        "pack.toml",
        "measures.toml",
        "screening.toml",
        "phases.toml",
        "exercises.toml",
        "text/en.toml",
    ];
    let text = |name: &str| std::fs::read_to_string(root.join(name)).unwrap();
    names.map(|name| (name.to_owned(), text(name))).to_vec()
}

/// A rule's verdict in a decision.
pub(crate) fn verdict(decision: &Decision, rule: &str) -> RuleVerdict {
    let index = pack()
        .rule(rule)
        .unwrap_or_else(|| panic!("no rule {rule}"));
    let found = decision
        .findings
        .iter()
        .find(|finding| finding.rule == index);
    found
        .unwrap_or_else(|| panic!("{rule} was not judged"))
        .verdict
}

/// A line's move in a decision.
pub(crate) fn moves(decision: &Decision, line: &str) -> Move {
    let found = decision.moves.iter().find(|given| *given.line == *line);
    found.unwrap_or_else(|| panic!("no move of {line}")).mv
}

/// A value of the dose of an exercise in place after a decision, relief counted.
pub(crate) fn placed(decision: &Decision, exercise: &str, variable: Variable) -> RowValue {
    let place = decision
        .state
        .places
        .iter()
        .find(|place| *place.exercise == *exercise);
    let place = place.unwrap_or_else(|| panic!("{exercise} has no place"));
    let of = &pack().exercises[pack().exercise(exercise).unwrap().at()];
    let rung = ladder::map_rung(of, &place.rung).unwrap();
    let values = ladder::dose_values(of, &ladder::dose(of, rung, &place.relief));
    values
        .into_iter()
        .find(|(of, _)| *of == variable)
        .unwrap()
        .1
}

/// A person's course so far, as the text of a diary.
pub(crate) struct Person {
    text: String,
    today: u32,
}

impl Person {
    /// Placed in a phase on day 0, with everything as good as can be.
    pub(crate) fn in_phase(phase: &str) -> Self {
        Self::begun("1986-01-01", phase, "")
    }

    /// The same, with exercises placed on their ladders.
    pub(crate) fn placed(phase: &str, places: &str) -> Self {
        Self::begun("1986-01-01", phase, places)
    }

    /// The same, of a date of birth.
    pub(crate) fn born(phase: &str, born: &str) -> Self {
        Self::begun(born, phase, "")
    }

    /// The decision on day 0 where the screening says this.
    pub(crate) fn screened(born: &str, answers: &str) -> Decision {
        let mut person = Self::opened(born);
        person.day(&format!(
            "screening = {{ {answers} }}\n{}",
            assessment("", "165", true)
        ));
        person.ask()
    }

    fn opened(born: &str) -> Self {
        let mut text = format!(
            "diary = \"check\"\nabout = \"Invented: for a check value.\"\nopened = \"{OPENED}\"\nborn = \"{born}\"\n"
        );
        for (key, carrier) in [
            ("screening", Carrier::Screening),
            ("session", Carrier::Session),
            ("exercise", Carrier::Exercise),
            ("morning_after", Carrier::MorningAfter),
        ] {
            writeln!(text, "[usual.{key}]\n{}", best(carrier)).unwrap();
        }
        Self { text, today: 0 }
    }

    fn begun(born: &str, phase: &str, places: &str) -> Self {
        let mut person = Self::opened(born);
        person.day(&format!(
            "screening = {{}}\n{}\ndirective = [{{ order = \"place\", who = \"an invented clinician\", \
             why = \"to begin here\", phase = \"{phase}\", places = {{ {places} }} }}]\nask = true",
            assessment("", "165", true)
        ));
        person
    }

    fn day(&mut self, lines: &str) {
        let date = self.date(self.today);
        writeln!(self.text, "[[day]]\ndate = \"{date}\"\n{lines}").unwrap();
    }

    fn date(&self, day: u32) -> Date {
        OPENED.checked_add(i64::from(day).days()).unwrap()
    }

    /// A session today, of which the morning after is not known yet.
    pub(crate) fn session(&mut self, told: &str) {
        self.day(&format!("session = [{{ {told} }}]"));
    }

    /// A session today with its morning after; it is the next day then.
    pub(crate) fn session_and_morning(&mut self, told: &str, morning: &str) {
        let comma = if told.is_empty() { "" } else { ", " };
        self.day(&format!(
            "session = [{{ {told}{comma}next_morning = {{ {morning} }} }}]"
        ));
        self.today += 1;
    }

    /// So many days with a session each.
    pub(crate) fn days(&mut self, count: u32) {
        self.sessions_until(self.today + count);
    }

    /// A session on every day before this one; it is that day then.
    pub(crate) fn sessions_until(&mut self, day: u32) {
        let until = self.date(day - 1);
        self.day(&format!(
            "until = \"{until}\"\nsession = [{{ next_morning = {{}} }}]"
        ));
        self.today = day;
    }

    /// So many days on which nothing is reported.
    pub(crate) fn pass(&mut self, days: u32) {
        self.today += days;
    }

    /// So many days away, from today.
    pub(crate) fn away(&mut self, days: u32) {
        let until = self.date(self.today + days - 1);
        self.day(&format!("away_until = \"{until}\""));
        self.today += days;
    }

    /// Something that happened today.
    pub(crate) fn event(&mut self, event: &str) {
        self.day(&format!("events = [\"{event}\"]"));
    }

    /// An assessment today that says this, beside another side of so many degrees.
    pub(crate) fn assess(&mut self, told: &str, other: u32) {
        self.day(&assessment(told, &other.to_string(), true));
    }

    /// The same, to go on with.
    pub(crate) fn assessment(mut self, told: &str) -> Self {
        self.assess(told, 165);
        self
    }

    /// Of a height in cm, with three bands that were measured and room to stand, in mm; and the decision that sets them. The
    /// readings are invented: a light, a middle and a strong band as are common.
    pub(crate) fn measured(mut self, height_cm: u32, room_mm: u32) -> Self {
        self.assess(&format!("\"standing height\" = {height_cm}"), 165);
        let mut lines = format!("room_mm = {room_mm}\nask = true\n");
        for (label, forces) in [
            ("light", [5.2, 8.0, 10.2, 12.1, 16.0, 20.3]),
            ("middle", [7.8, 11.9, 15.1, 18.0, 23.6, 30.0]),
            ("strong", [11.2, 17.2, 21.9, 26.2, 34.3, 43.6]),
        ] {
            let points = [25, 50, 75, 100, 150, 200].into_iter().zip(forces);
            let points: Vec<String> = points
                .map(|(elongation, force)| format!("[{elongation}, {force:.1}]"))
                .collect();
            writeln!(
                lines,
                "[[day.band]]\nlabel = \"{label}\"\nrest_length_mm = 1500\npoints = [{}]\nelongation_max = 200",
                points.join(", ")
            )
            .unwrap();
        }
        self.day(&lines);
        self
    }

    /// An assessment of the lift beside that of the other side.
    pub(crate) fn assessed(mut self, own: u32, other: u32) -> Self {
        self.assess(&format!("\"active elevation\" = {own}"), other);
        self
    }

    /// An assessment of the lift while the other side is not sound.
    pub(crate) fn assessed_alone(mut self, own: u32) -> Self {
        self.day(&assessment(
            &format!("\"active elevation\" = {own}"),
            "165",
            false,
        ));
        self
    }

    /// An assessment of the strength of the outward turn beside that of the other side.
    pub(crate) fn strength(mut self, own: u32, other: u32) -> Self {
        let told = format!("\"external rotation strength\" = {own}");
        let other = format!("165, \"external rotation strength\" = {other}");
        self.day(&assessment(&told, &other, true));
        self
    }

    /// One whole session with its morning, and the decision after it.
    pub(crate) fn reported_day(mut self) -> Decision {
        self.session_and_morning("", "");
        self.ask()
    }

    /// The decision on that day.
    pub(crate) fn ask_on_day(&mut self, day: u32) -> Decision {
        self.today = day;
        self.ask()
    }

    /// The decision today.
    pub(crate) fn ask(&mut self) -> Decision {
        self.day("ask = true");
        self.play()
            .asked
            .pop()
            .expect("something was asked")
            .decision
    }

    /// A value of what is prescribed today.
    pub(crate) fn dose(&self, exercise: &str, variable: Variable) -> RowValue {
        let all = prescribed(pack(), &self.play().history, self.date(self.today));
        let one = all.into_iter().find(|one| *one.exercise == *exercise);
        let dose = one
            .unwrap_or_else(|| panic!("{exercise} is not prescribed"))
            .dose;
        dose.into_iter().find(|(of, _)| *of == variable).unwrap().1
    }

    fn play(&self) -> Played {
        let diary = diary::read(pack(), "check.toml", &self.text)
            .unwrap_or_else(|found| panic!("{found:?}\n{}", self.text));
        let played = play(pack(), &diary);
        assert!(
            played.refused.is_empty(),
            "{:?}\n{}",
            played.refused,
            self.text
        );
        played
    }
}

/// Every measure of a carrier at its best.
fn best(carrier: Carrier) -> String {
    let mut text = String::new();
    for measure in pack()
        .measures
        .iter()
        .filter(|measure| matches!(measure.origin, Origin::Reported) && measure.carrier == carrier)
    {
        let value = match &measure.kind {
            MeasureKind::Choice { choices } => format!("\"{}\"", choices[0]),
            MeasureKind::Number { max, .. } if measure.worse == Worse::Lower => max.to_string(),
            MeasureKind::Number { min, .. } => min.to_string(),
        };
        writeln!(text, "\"{}\" = {value}", measure.name).unwrap();
    }
    text
}

/// The lines of an assessment; `told` replaces or adds `"measure" = value` pairs.
fn assessment(told: &str, other: &str, sound: bool) -> String {
    let told: Vec<(&str, &str)> = told
        .split(", ")
        .filter_map(|pair| pair.split_once(" = "))
        .collect();
    let mut pairs: Vec<(&str, &str)> = ASSESSMENT
        .into_iter()
        .filter(|(name, _)| !told.iter().any(|(of, _)| of == name))
        .collect();
    pairs.extend(told);
    let pairs: Vec<String> = pairs
        .iter()
        .map(|(name, value)| format!("{name} = {value}"))
        .collect();
    format!(
        "assessment = {{ {} }}\nother_side = {{ \"active elevation\" = {other} }}\nother_side_sound = {sound}",
        pairs.join(", ")
    )
}
