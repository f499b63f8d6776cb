//! What a simulation came to as tables, the same for the text and for the page.
//!
//! Leaves to others: drawing (`super::charts`), the page (`super::page`).

use super::Side;
use super::lists::{Counted, held, lacked, rules_with, stuck_held, stuck_lacked};
use super::number::{grouped, hundredths, per, share, tenths};
use crate::rules::hex;
use rungwise_engine::decision::Move;
use rungwise_pack::model::Outcome;
use rungwise_rehearsal::cohort::{Arrivals, Cohort, Differences, Model, PARAMETERS, Paired};
use std::fmt::Write as _;

/// The shares of all people whose weeks are told, in thousandths.
pub(super) const SHARES_PERMILLE: [u64; 5] = [100, 250, 500, 750, 900];

/// Most rows of a list.
const ROWS_MAX: usize = 10;

/// A table. Numbers stand to the right, words to the left.
pub(super) struct Table {
    pub(super) title: String,
    pub(super) note: String,
    pub(super) head: Vec<String>,
    pub(super) rows: Vec<Vec<String>>,
    /// Which columns are words.
    words: &'static [usize],
}

impl Table {
    fn new(title: &str, note: &str, head: &[&str], words: &'static [usize]) -> Self {
        Self {
            title: title.to_owned(),
            note: note.to_owned(),
            head: head.iter().map(ToString::to_string).collect(),
            rows: Vec::new(),
            words,
        }
    }

    /// The same, of one of two packs.
    pub(super) fn under(mut self, side: &Side) -> Self {
        self.title = format!("{}, {}", self.title, side.name);
        self
    }

    /// Whether a column is words.
    pub(super) fn is_words(&self, column: usize) -> bool {
        self.words.contains(&column)
    }

    /// As text: the note, then the columns beside each other.
    pub(super) fn text(&self) -> String {
        let mut text = String::new();
        if !self.note.is_empty() {
            // A String takes everything.
            let _ = writeln!(text, "{}", textwrap::fill(&self.note, 100));
        }
        if self.rows.is_empty() {
            return text;
        }
        let lines = || std::iter::once(&self.head).chain(&self.rows);
        let width = |column: usize| {
            let cells = lines().filter_map(|line| line.get(column));
            cells.map(|cell| cell.chars().count()).max().unwrap_or(0)
        };
        let widths: Vec<usize> = (0..self.head.len()).map(width).collect();
        for line in lines() {
            let mut told = String::new();
            for (column, (cell, width)) in line.iter().zip(&widths).enumerate() {
                let space = " ".repeat(width.saturating_sub(cell.chars().count()));
                let (before, after) = if self.is_words(column) {
                    ("", space.as_str())
                } else {
                    (space.as_str(), "")
                };
                let _ = write!(told, "  {before}{cell}{after}");
            }
            let _ = writeln!(text, "{}", told.trim_end());
        }
        text
    }
}

/// Which pack exactly, and what happened before care began.
pub(super) fn digest(side: &Side) -> String {
    let events = if side.events.is_empty() {
        "none".to_owned()
    } else {
        side.events.join(", ")
    };
    format!(
        "{}: {}, digest {}; events on the first day: {events}",
        side.called,
        format_args!("{} {}", side.pack.id, side.pack.version),
        hex(&side.pack.digest)
    )
}

/// Every table of one pack.
pub(super) fn of(side: &Side) -> Vec<Table> {
    vec![
        weeks(side),
        stuck(side),
        lacks(side),
        holds(side),
        limits(side),
        a_week(&side.cohort),
        cost(&side.cohort),
    ]
}

fn weeks(side: &Side) -> Table {
    let mut table = Table::new(
        "Weeks until people come to each phase",
        "Of all people, those who never come included: how many came, and the week by which so many of all had come. A dash: not within the simulation.",
        &["", "came", "10 %", "25 %", "50 %", "75 %", "90 %"],
        &[0],
    );
    let phases = side.pack.phases.iter().zip(&side.cohort.phases);
    let phases = phases.map(|(phase, came)| (phase.key.to_string(), came));
    let last = std::iter::once(("discharge".to_owned(), &side.cohort.ended));
    for (name, came) in phases.chain(last) {
        let mut row = vec![name, share(came.came(), came.people())];
        row.extend(SHARES_PERMILLE.map(|permille| week(came, permille)));
        table.rows.push(row);
    }
    table
}

/// The week by which so many thousandths of all had come.
pub(super) fn week(came: &Arrivals, permille: u64) -> String {
    let day = came.day_of(permille);
    day.map_or_else(|| "–".to_owned(), |day| tenths(i64::from(day), 7))
}

fn stuck(side: &Side) -> Table {
    let cohort = &side.cohort;
    let mut table = Table::new(
        &format!(
            "Stuck: {} of all people",
            share(cohort.stuck, cohort.people)
        ),
        "For as many weeks as the model says no line went up and no further phase was entered; counted the first time, with all that was lacking then. Shares are of those who were stuck.",
        &["share", "where, and for what"],
        &[1],
    );
    let of_stuck = |count: u64| share(count, cohort.stuck);
    for (phase, count) in side.pack.phases.iter().zip(&cohort.stuck_in) {
        if *count > 0 {
            table
                .rows
                .push(vec![of_stuck(*count), format!("in {}", phase.key)]);
        }
    }
    for (of, text, [count, _]) in first(stuck_lacked(side)) {
        table
            .rows
            .push(vec![of_stuck(count), format!("lacking {of}: {text}")]);
    }
    for (of, text, [count, _]) in first(stuck_held(side)) {
        table
            .rows
            .push(vec![of_stuck(count), format!("by {of}: {text}")]);
    }
    table
}

fn lacks(side: &Side) -> Table {
    let mut table = Table::new(
        "Sentences that people lacked most often for the next phase or for discharge",
        "Shares of all decisions and of all people; a decision may lack several.",
        &["decisions", "people", "sentence", "of"],
        &[2, 3],
    );
    let cohort = &side.cohort;
    for (of, text, [decisions, people]) in first(lacked(side)) {
        table.rows.push(vec![
            share(decisions, cohort.decisions),
            share(people, cohort.people),
            text,
            of,
        ]);
    }
    table
}

fn holds(side: &Side) -> Table {
    let mut table = Table::new(
        "Rules that held most often, sent back or referred",
        "Met, or in doubt because something was not told. Shares of all decisions, of these decisions, and of all people.",
        &["decisions", "in doubt", "people", "rule", "its sentences"],
        &[3, 4],
    );
    let cohort = &side.cohort;
    let doubts = rules_with(side, &cohort.held, &cohort.doubted);
    for ((of, text, [decisions, people]), (_, _, [_, doubted])) in first(held(side)).zip(doubts) {
        table.rows.push(vec![
            share(decisions, cohort.decisions),
            share(doubted, decisions),
            share(people, cohort.people),
            of,
            text,
        ]);
    }
    if table.rows.is_empty() {
        table.note = "None did.".to_owned();
    }
    table
}

fn limits(side: &Side) -> Table {
    let cohort = &side.cohort;
    let total: u64 = cohort.over.values().sum();
    let mut table = Table::new(
        "Limits for which lines were eased or withdrawn",
        "Shares of all lines so moved.",
        &["lines", "share", "limit"],
        &[2],
    );
    let mut over: Vec<(u64, String)> = cohort
        .over
        .iter()
        .map(|(limit, count)| {
            let name = limit.as_deref().unwrap_or("skipped because of pain");
            (*count, name.to_owned())
        })
        .collect();
    over.sort_by(|one, other| other.0.cmp(&one.0).then_with(|| one.1.cmp(&other.1)));
    for (count, name) in over.into_iter().take(ROWS_MAX) {
        table
            .rows
            .push(vec![grouped(count), share(count, total), name]);
    }
    if table.rows.is_empty() {
        table.note = "None was.".to_owned();
    }
    table
}

fn a_week(cohort: &Cohort) -> Table {
    let mut table = Table::new(
        "Moves of lines for each week that a person is in care",
        "",
        &["a week", "in all", "move"],
        &[2],
    );
    for (mv, count) in Move::ALL.iter().zip(cohort.moves) {
        table.rows.push(vec![
            per(count * 7, cohort.days),
            grouped(count),
            mv.word().to_owned(),
        ]);
    }
    table
}

fn cost(cohort: &Cohort) -> Table {
    let mut table = Table::new(
        "Setbacks and cost",
        "",
        &["in all", "for each person", "people", ""],
        &[3],
    );
    let people = cohort.people;
    let outcome = |of: Outcome| cohort.outcomes.get(of as usize).copied().unwrap_or(0);
    let rows = [
        ("flare-ups", cohort.flare_ups, Some(cohort.flare_up_people)),
        (
            "decisions that send a person back a phase",
            outcome(Outcome::Regress),
            Some(cohort.regressed_people),
        ),
        (
            "refer rules that came into force",
            cohort.referrals,
            Some(cohort.referred_people),
        ),
        ("days in care", cohort.days, None),
        (
            "days on which nothing was prescribed",
            cohort.days_without,
            None,
        ),
        ("sessions done", cohort.sessions, None),
        ("decisions made", cohort.decisions, None),
        ("of these, HOLD", outcome(Outcome::Hold), None),
    ];
    for (what, count, ever) in rows {
        table.rows.push(vec![
            grouped(count),
            per(count, people),
            ever.map_or_else(String::new, |ever| share(ever, people)),
            what.to_owned(),
        ]);
    }
    table
}

/// The second pack's numbers less the first's, person by person.
pub(super) fn differences(first: &Side, second: &Side, paired: &Paired) -> Table {
    let mut table = Table::new(
        &format!("{} beside {}, person by person", second.name, first.name),
        "The second pack's number less the first's: how many of all people have a smaller, the same and a larger one, the mean, and its 95 % interval (of paired differences). Who does not come within the simulation counts as coming on its last day. The last column is the smallest mean difference that four of five simulations of as many people would tell from none.",
        &[
            "",
            "less",
            "same",
            "more",
            "mean",
            "95 % interval",
            "seen from",
        ],
        &[0],
    );
    let weeks = paired.phases.iter();
    let weeks = weeks.map(|(key, one)| (format!("weeks to {key}"), one, Scale::Weeks));
    let discharge = [("weeks to discharge".to_owned(), &paired.ended, Scale::Weeks)];
    let rest = [
        ("discharged", &paired.discharged, Scale::Share),
        ("ever stuck", &paired.stuck, Scale::Share),
        ("ever sent back a phase", &paired.regressed, Scale::Share),
        ("ever referred", &paired.referred, Scale::Share),
        ("flare-ups", &paired.flare_ups, Scale::Count),
        (
            "days without a prescription",
            &paired.days_without,
            Scale::Count,
        ),
        ("decisions", &paired.decisions, Scale::Count),
    ];
    let rest = rest.map(|(what, one, scale)| (what.to_owned(), one, scale));
    for (what, one, scale) in weeks.chain(discharge).chain(rest) {
        table.rows.push(difference(what, one, scale));
    }
    table
}

/// In what a difference is told.
#[derive(Clone, Copy)]
enum Scale {
    /// Of days, in weeks.
    Weeks,
    /// Of people, in per cent.
    Share,
    /// As counted.
    Count,
}

impl Scale {
    /// Thousandths of a difference, in hundredths or, of per cent, in tenths.
    fn told(self, milli: i64) -> String {
        match self {
            Self::Weeks => hundredths(milli, 7000),
            Self::Share => format!("{} %", tenths(milli * 100, 1000)),
            Self::Count => hundredths(milli, 1000),
        }
    }
}

fn difference(what: String, one: &Differences, scale: Scale) -> Vec<String> {
    let people = one.people();
    let mean = one.mean_milli();
    let interval = one.half_width_milli().map(|half| {
        let (low, high) = (mean.saturating_sub(half), mean.saturating_add(half));
        format!("{} to {}", scale.told(low), scale.told(high))
    });
    let none = || "–".to_owned();
    let seen = one.seen_from_milli().map(|seen| scale.told(seen));
    vec![
        what,
        share(one.less, people),
        share(one.same, people),
        share(one.more, people),
        scale.told(mean),
        interval.unwrap_or_else(none),
        seen.unwrap_or_else(none),
    ]
}

/// What people are made of.
pub(super) fn assumptions(model: &Model) -> Table {
    let mut table = Table::new(
        "Assumptions",
        "Every number that a virtual person is made of. Each is an assumption and none is evidence. A spread is drawn for each person (of a flare-up or a time away: each time), a single number is the same for all. 1000 ‰ is the whole: of a chance always, of a state recovered, of a measure its range from best to worst.",
        &["key", "here", "unit", "allowed", "what it stands for"],
        &[0, 2, 3, 4],
    );
    for one in PARAMETERS {
        table.rows.push(vec![
            one.key.to_owned(),
            model.value(one).to_string(),
            one.unit.to_owned(),
            format!("{} to {}", one.least, one.most),
            one.says.to_owned(),
        ]);
    }
    let word = |key: &str, here: String, says: &str| {
        let none = String::new;
        vec![key.to_owned(), here, none(), none(), says.to_owned()]
    };
    let events = model.events_at_start.as_ref();
    table.rows.push(word(
        "flare_up_event",
        model.flare_up_event.clone(),
        "the event that tells a flare-up, where the pack has it",
    ));
    table.rows.push(word(
        "events_at_start",
        events.map_or_else(|| "as needed".to_owned(), |names| names.join(", ")),
        "what happened on the first day; as needed: without which not even the best course ends",
    ));
    for (name, one) in &model.measures {
        table.rows.push(word(
            &format!("measure.\"{name}\""),
            format!("{} to {}", one.recovered_permille, one.worst_permille),
            "how bad this measure is at state 1000 and at state 0, in ‰ of its range",
        ));
    }
    table
}

/// What the model leaves out, in words.
pub(super) const LEFT_OUT: [&str; 7] = [
    "A measure tells of one hidden state, by where its value stands between the best and the worst of its declared range; the pack's own words mean nothing here.",
    "A dose weighs by where it stands between the first phase's gentlest and the last phase's hardest; a pack whose ladders are cut otherwise weighs otherwise, and a comparison of such packs shows that too.",
    "Measures that only refer rules read are warning signs: at their best but on rare days. Measures without a better end stay at a value that the rules take. Values that need not be told are told where an upward rule reads them, and else not.",
    "Nobody has measured bands, and nobody says their height: loads that need them are kept.",
    "Nothing else happens than flare-ups, time away and warning signs: no falls, injections or other events, no corrections, no directives but the clearing of referrals.",
    "A clinician accepts everything proposed, and places or stops nobody.",
    "Somebody who gets worse on waiting, dislikes an exercise or gives up for good is not in the model.",
];

fn first(counted: Counted) -> impl Iterator<Item = (String, String, [u64; 2])> {
    counted.into_iter().take(ROWS_MAX)
}
