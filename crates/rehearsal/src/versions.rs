//! Two versions of a pack on courses of care: one on which the newer is bolder, and where the doses of the older stand on
//! the newer's ladders.
//!
//! The courses are those of both packs' diaries, best courses, and best courses in which one measure has one other value
//! throughout (each choice, and each value next to a number, of what a changed sentence speaks of). On each of them the older pack decides,
//! and before each ask both decide on the same history; the first decision of the newer that is bolder is kept, with the
//! course. It is a search: finding none proves nothing.
//!
//! Leaves to others: comparing what the packs say (`rungwise_pack::compare`), reading files.

mod doses;

pub use doses::{Kept, kept_doses};

use crate::bolder::bolder;
use crate::course::{Course, Plan};
use crate::diary::{self, Diary};
use crate::play::Player;
use jiff::civil::Date;
use rungwise_engine::decide::{Next, next};
use rungwise_engine::decision::Decision;
use rungwise_engine::fact::Value;
use rungwise_engine::history::History;
use rungwise_pack::compare::Comparison;
use rungwise_pack::model::{
    Amount, CheckedPack, Measure, MeasureKind, Origin, Outcome, Pack, Relation, Sentence, Subject,
};
use rungwise_pack::quantity::Milli;
use rungwise_pack::source::{SourceFiles, is_diary};
use std::collections::BTreeSet;

/// Longest course with a value of its own that is looked at, in days.
pub const DAYS_MAX: u32 = 180;

/// A decision in which the newer pack is bolder.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Bolder {
    /// The diary's name, or what the course is like.
    pub course: String,
    /// The course as a diary, where it is not one of the packs' own.
    pub diary: Option<String>,
    /// The date asked for.
    pub date: Date,
    /// What the older pack decides.
    pub old: Outcome,
    /// What the newer decides.
    pub new: Outcome,
    /// In what the newer is bolder.
    pub why: String,
}

/// What the search came to.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Searched {
    /// The first decision found; courses nearest to a diary come first.
    pub bolder: Option<Bolder>,
    /// Courses played.
    pub courses: usize,
    /// Decisions compared.
    pub decisions: usize,
}

/// How two packs differ, and where it is not proved that the newer is never bolder, what the search came to on the diaries of
/// both. Each pack comes with its files.
#[must_use]
pub fn compared(
    (old, old_files): (&CheckedPack, &SourceFiles),
    (new, new_files): (&CheckedPack, &SourceFiles),
) -> (Comparison, Searched) {
    let comparison = rungwise_pack::compare(old, new);
    let searched = if comparison.is_never_bolder() {
        Searched::default()
    } else {
        search(old, new, &diaries(old, [old_files, new_files]))
    };
    (comparison, searched)
}

/// The diaries among these files that the older pack can read, each once. One that speaks of what it has not is no course
/// of it.
fn diaries(old: &CheckedPack, of: [&SourceFiles; 2]) -> Vec<Diary> {
    let mut found: Vec<Diary> = Vec::new();
    let files = of.into_iter().flat_map(SourceFiles::files);
    for file in files.filter(|file| is_diary(&file.name)) {
        if let Ok(diary) = diary::read(old, &file.name, &file.text)
            && !found.iter().any(|other| other.name == diary.name)
        {
            found.push(diary);
        }
    }
    found
}

/// Looks for a course on which `new` is bolder than `old`. `diaries` are those that `old` can read.
#[must_use]
pub fn search(old: &CheckedPack, new: &CheckedPack, diaries: &[Diary]) -> Searched {
    let mut searched = Searched::default();
    for diary in diaries {
        if searched.bolder.is_some() {
            return searched;
        }
        played(old, new, diary, &mut searched);
    }
    for plan in plans(old, new) {
        if searched.bolder.is_some() {
            return searched;
        }
        let mut pair = Pair::new(old, new);
        let course = Course::new(old, plan.clone());
        let course = course.run(DAYS_MAX, &mut |player, date| pair.ask(player, date));
        let told = pair.first.take().map(|first| Bolder {
            course: called(&plan),
            diary: Some(course.diary().to_owned()),
            ..first
        });
        searched.courses += 1;
        searched.decisions += pair.decisions;
        searched.bolder = told;
    }
    searched
}

fn played(old: &CheckedPack, new: &CheckedPack, diary: &Diary, searched: &mut Searched) {
    let mut player = Player::new(old, diary.episode.clone());
    let mut pair = Pair::new(old, new);
    for step in &diary.steps {
        for entry in &step.entries {
            // What the diary tells of a day that the older pack does not take is passed over.
            let _refused = player.report(step.date, entry);
        }
        if step.ask.is_some() {
            pair.ask(&player, step.date);
            if player.ask(step.date).is_err() {
                break;
            }
        }
    }
    searched.courses += 1;
    searched.decisions += pair.decisions;
    searched.bolder = pair.first.map(|first| Bolder {
        course: format!("diary `{}`", diary.name),
        ..first
    });
}

/// Both packs on one history.
struct Pair<'p> {
    old: &'p CheckedPack,
    new: &'p CheckedPack,
    /// The same records as the newer pack reads them.
    shadow: Option<History>,
    decisions: usize,
    first: Option<Bolder>,
}

impl<'p> Pair<'p> {
    const fn new(old: &'p CheckedPack, new: &'p CheckedPack) -> Self {
        Self {
            old,
            new,
            shadow: None,
            decisions: 0,
            first: None,
        }
    }

    fn ask(&mut self, player: &Player<'_>, date: Date) {
        if self.first.is_some() {
            return;
        }
        let history = player.history();
        let shadow = self
            .shadow
            .get_or_insert_with(|| History::new(self.new, history.episode().clone()));
        let known = shadow.records().len();
        for record in history.records().iter().skip(known) {
            shadow.push(self.new, record.clone());
        }
        let decide = |pack: &CheckedPack, history: &History| -> Option<Decision> {
            match next(pack, history, date).ok()? {
                Next::New(decision) => Some(*decision),
                Next::Again(_) => None,
            }
        };
        let Some((before, after)) = decide(self.old, history).zip(decide(self.new, shadow)) else {
            return;
        };
        self.decisions += 1;
        if let Some(why) = bolder(&after, &before) {
            self.first = Some(Bolder {
                course: String::new(),
                diary: None,
                date,
                old: before.outcome,
                new: after.outcome,
                why,
            });
        }
    }
}

/// Every course that is tried besides the diaries.
fn plans(old: &CheckedPack, new: &CheckedPack) -> Vec<Plan> {
    let best = Plan::best(old);
    let mut plans = best.clone();
    let changed: Vec<(&Pack, &Sentence)> = own(old, new).chain(own(new, old)).collect();
    for measure in &old.measures {
        for value in values(&changed, measure) {
            plans.extend(best.iter().map(|plan| Plan {
                with: Some((measure.name.clone(), value.clone())),
                ..plan.clone()
            }));
        }
    }
    plans
}

/// The sentences of a pack that another has not, or has less often.
fn own<'p>(pack: &'p Pack, other: &Pack) -> impl Iterator<Item = (&'p Pack, &'p Sentence)> {
    let count =
        |pack: &Pack, text: &str| pack.sentences.iter().filter(|one| one.text == text).count();
    let more: Vec<&Sentence> = pack
        .sentences
        .iter()
        .filter(|one| count(pack, &one.text) > count(other, &one.text))
        .collect();
    more.into_iter().map(move |sentence| (pack, sentence))
}

/// The values of a measure that are worth trying: each choice; each number that a changed sentence about it names, and
/// those beside it.
fn values(changed: &[(&Pack, &Sentence)], measure: &Measure) -> Vec<Value> {
    if !matches!(measure.origin, Origin::Reported) {
        return Vec::new();
    }
    let about = changed
        .iter()
        .filter(|(pack, sentence)| speaks_of(pack, sentence, measure));
    let (min, max, step) = match &measure.kind {
        MeasureKind::Choice { choices } if about.clone().next().is_some() => {
            return choices.iter().cloned().map(Value::Choice).collect();
        }
        MeasureKind::Choice { .. } => return Vec::new(),
        MeasureKind::Number { min, max, step, .. } => (min.0, max.0, step.0),
    };
    let near: BTreeSet<i64> = about
        .flat_map(|(_, sentence)| numbers(sentence))
        .flat_map(|number| {
            [
                number.saturating_sub(step),
                number,
                number.saturating_add(step),
            ]
        })
        .filter(|number| (min..=max).contains(number))
        .collect();
    near.into_iter()
        .map(|number| Value::Number(Milli(number)))
        .collect()
}

fn speaks_of(pack: &Pack, sentence: &Sentence, measure: &Measure) -> bool {
    let Subject::Measure { measure: ix, .. } = &sentence.subject else {
        return false;
    };
    pack.measures
        .get(ix.at())
        .is_some_and(|one| one.name == measure.name)
}

/// The numbers that a sentence compares its measure with.
fn numbers(sentence: &Sentence) -> Vec<i64> {
    let fixed = |amount: &Amount| match amount {
        Amount::Fixed(number) | Amount::Offset(number, _) => Some(number.0),
        Amount::PercentOf(..) | Amount::PercentOfOtherSide(_) => None,
    };
    let amounts = match &sentence.relation {
        Relation::Compare(_, amount) => [fixed(amount), None],
        Relation::Between(low, high) => [fixed(low), fixed(high)],
        _ => [None, None],
    };
    amounts.into_iter().flatten().collect()
}

fn called(plan: &Plan) -> String {
    let with = plan.with.as_ref().map(|(name, value)| match value {
        Value::Number(number) => format!(" with `{name}` {number} throughout"),
        Value::Choice(choice) => format!(" with `{name}` {choice} throughout"),
        Value::CouldNot => format!(" with `{name}` never possible"),
    });
    format!("the best course{}", with.unwrap_or_default())
}
