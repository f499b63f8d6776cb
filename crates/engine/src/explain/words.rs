//! Causes, limits and distances in a clinician's words.
//!
//! Leaves to others: which of them a decision has (`crate::decide`), the whole explanation (`super`).

use crate::band::{Bind, Binds};
use crate::decision::{Ask, Cause, Missing, Verdict, Wanted};
use rungwise_pack::model::{
    Amount, ChangeBy, Compare, Direction, Grounds, Measure, MeasureIx, MeasureKind, Pack,
    Reference, Relation, Reporter, RowValue, Sentence, Subject,
};
use rungwise_pack::quantity::{Key, Milli};

/// A cause in one clause, with the reason that the pack gives for the rule it names.
#[must_use]
pub fn cause_text(pack: &Pack, cause: &Cause) -> String {
    rule_cause(pack, cause)
        .or_else(|| limit_cause(pack, cause))
        .or_else(|| place_cause(cause))
        .unwrap_or_else(|| episode_cause(cause))
}

fn rule_cause(pack: &Pack, cause: &Cause) -> Option<String> {
    let (rule, verdict) = match cause {
        Cause::Met(rule) => (rule, "is met"),
        Cause::Doubt(rule) => (rule, "is in doubt: what is missing could make it met"),
        Cause::MetBefore(rule) => (
            rule,
            "is met, but not by what was recorded in this stay alone: it holds and does not act",
        ),
        Cause::Latched(rule) => (rule, "stays in force until a clinician clears it"),
        Cause::NotMet(rule) => (rule, "is not met"),
        _ => return None,
    };
    let reason = pack
        .rule(rule)
        .and_then(|index| pack.rules.get(index.at()))
        .map(|rule| &*rule.reason);
    Some(match reason {
        Some(reason) if !reason.is_empty() => format!("`{rule}` {verdict} ({reason})"),
        _ => format!("`{rule}` {verdict}"),
    })
}

fn limit_cause(pack: &Pack, cause: &Cause) -> Option<String> {
    let (limit, (date, number), twice) = match cause {
        Cause::OverLimit { limit, session } => (limit, session, false),
        Cause::OverLimitTwice { limit, session } => (limit, session, true),
        _ => return None,
    };
    let over = match limit {
        Some(limit) => match find_limit(pack, limit) {
            Some(sentence) => format!("over `{limit}` ({})", sentence.text),
            None => format!("over `{limit}`"),
        },
        None => "skipped because of pain".to_owned(),
    };
    Some(if twice {
        format!(
            "over a limit in two sessions in a row, the second {over}, session {number} of {date}"
        )
    } else {
        format!("{over} in session {number} of {date}")
    })
}

/// The sentence of the limit under this key: the pack's, a phase's or an exercise's.
pub(super) fn find_limit<'p>(pack: &'p Pack, key: &Key) -> Option<&'p Sentence> {
    let phases = pack.phases.iter().flat_map(|phase| &phase.limits);
    let exercises = pack.exercises.iter().flat_map(|exercise| &exercise.limits);
    let mut limits = pack.limits.iter().chain(phases).chain(exercises);
    let limit = limits.find(|limit| limit.key == *key)?;
    pack.sentences.get(limit.sentence.at())
}

fn place_cause(cause: &Cause) -> Option<String> {
    Some(match cause {
        Cause::NothingLeft => "nothing is left to give".into(),
        Cause::NoCountedSession => "no session counts yet".into(),
        Cause::NothingNew => {
            "nothing is new since the last decision, and time alone never raises".into()
        }
        Cause::LimitValueMissing(measure) => {
            format!("the newest session that counts lacks `{measure}`, which a limit reads")
        }
        Cause::RungNotReached => "the newest session did not reach every prescribed set".into(),
        Cause::Needs(variable) => {
            format!(
                "the next value of {} needs something that is not met or not known",
                variable.word()
            )
        }
        Cause::AtTop => "at the top of what the phase has".into(),
        Cause::NoSlot => "another line has the slot".into(),
        Cause::Withdrawn => "withdrawn, or blocked by a withdrawal on its line".into(),
        Cause::Comfortable => "the comfortable range reported caps it".into(),
        Cause::LineEnds => "the phase has no place for the line".into(),
        Cause::LoadUnmeasured => {
            "the load is not measured, and a load that is not known is not raised".into()
        }
        Cause::NoBandFits(binds) => {
            format!(
                "nothing that is owned gives the load: {}",
                binds_text(*binds)
            )
        }
        Cause::Unmapped(exercise) => {
            format!("`{exercise}` has no place in this version of the pack")
        }
        _ => return None,
    })
}

/// What binds and by how much.
#[must_use]
pub fn binds_text(binds: Binds) -> String {
    let by = Milli(binds.by);
    match binds.what {
        Bind::NothingOwned => "no measured band is owned".into(),
        Bind::Room => format!("the room is {} mm too short", binds.by),
        Bind::Near => format!("one would stand {} mm too near", binds.by),
        Bind::TooShort => format!("the band would be held {} mm too short", binds.by),
        Bind::Slack => format!("the band would be slack by {} mm", binds.by),
        Bind::Tension => format!("its tension at the start would be {by} N too low"),
        Bind::Elongation => format!("the band would be {by} % past its safe elongation"),
        Bind::StepTooLarge => format!("the least step up is {by} % too large"),
        Bind::TooHeavy => format!("the least load is {by} N.m too high"),
        Bind::TooLight => format!("the highest load is {by} N.m too low"),
        Bind::Motion => "the motion cannot be made so".into(),
    }
}

fn episode_cause(cause: &Cause) -> String {
    match cause {
        Cause::LayOff { days } => format!("a lay-off of {days} days"),
        Cause::Directive(position) => format!("the directive at position {}", position.0),
        Cause::Corrected(position) => format!(
            "the correction at position {} takes away what an earlier upward move stood on",
            position.0
        ),
        Cause::ScreeningUnanswered => "screening is not answered".into(),
        Cause::Discharged => "care has ended and stands until reopened".into(),
        _ => "it follows from the outcome".into(),
    }
}

/// What a sentence asks for, its amount in its measure's unit, without the window: `at most 3`, `at least 80 % of the
/// other side`, `no worse than moderate`.
#[must_use]
pub fn limit_text(pack: &Pack, sentence: &Sentence) -> String {
    let measure = subject_measure(pack, sentence);
    match &sentence.relation {
        Relation::Compare(compare, amount) => {
            format!(
                "{} {}",
                compare_words(*compare),
                amount_text(pack, measure, *amount)
            )
        }
        Relation::Between(low, high) => format!(
            "between {} and {}",
            amount_text(pack, measure, *low),
            amount_text(pack, measure, *high)
        ),
        Relation::Is(choice) => format!("is {}", choice_text(measure, choice.at())),
        Relation::IsNot(choice) => format!("is not {}", choice_text(measure, choice.at())),
        Relation::NoWorseThan(choice) => {
            format!("no worse than {}", choice_text(measure, choice.at()))
        }
        Relation::Change(direction, by, reference) => {
            let direction = match direction {
                Direction::Up => "up",
                Direction::Down => "down",
            };
            let by = match by {
                ChangeBy::Units(number) => number_text(measure, *number),
                ChangeBy::Percent(number) => format!("{number} %"),
            };
            format!(
                "{direction} by at least {by} {}",
                reference_words(*reference)
            )
        }
        Relation::Reached => reached_text(&sentence.subject),
    }
}

fn reached_text(subject: &Subject) -> String {
    match subject {
        Subject::Reached {
            variable, value, ..
        } => {
            format!("has reached {} {}", variable.word(), row_value_text(value))
        }
        Subject::Measure { .. } => String::new(),
    }
}

/// The measure a sentence is about; none for what exercises have reached.
fn subject_measure<'p>(pack: &'p Pack, sentence: &Sentence) -> Option<&'p Measure> {
    match &sentence.subject {
        Subject::Measure { measure, .. } => pack.measures.get(measure.at()),
        Subject::Reached { .. } => None,
    }
}

const fn compare_words(compare: Compare) -> &'static str {
    match compare {
        Compare::AtMost => "at most",
        Compare::AtLeast => "at least",
        Compare::Below => "below",
        Compare::Above => "above",
    }
}

fn reference_words(reference: Reference) -> String {
    match reference {
        Reference::FirstAssessment => "since the first assessment".into(),
        Reference::AssessmentBefore => "since the assessment before".into(),
        Reference::BestAssessment => "since the best assessment".into(),
        Reference::PhaseEntry => "since entering the phase".into(),
        Reference::DaysBefore(days) => format!("compared with the {days} days before"),
    }
}

fn amount_text(pack: &Pack, measure: Option<&Measure>, amount: Amount) -> String {
    let name = |of: MeasureIx| {
        pack.measures
            .get(of.at())
            .map_or_else(String::new, |of| of.name.to_string())
    };
    match amount {
        Amount::Fixed(number) => number_text(measure, number),
        Amount::Offset(number, of) if number.0 < 0 => {
            format!(
                "{} below {}",
                number_text(measure, Milli(number.0.saturating_neg())),
                name(of)
            )
        }
        Amount::Offset(number, of) => {
            format!("{} above {}", number_text(measure, number), name(of))
        }
        Amount::PercentOfOtherSide(percent) => format!("{percent} % of the other side"),
        Amount::PercentOf(percent, of) => format!("{percent} % of {}", name(of)),
    }
}

/// A number with its measure's unit. A plain count or score shows none.
pub(super) fn number_text(measure: Option<&Measure>, number: Milli) -> String {
    match unit_text(measure) {
        "" => number.to_string(),
        unit => format!("{number} {unit}"),
    }
}

/// The unit as shown: nothing for `1` and for annotations.
fn unit_text(measure: Option<&Measure>) -> &str {
    match measure.map(|measure| &measure.kind) {
        Some(MeasureKind::Number { unit, .. })
            if &*unit.code != "1" && !unit.code.starts_with('{') =>
        {
            &unit.code
        }
        _ => "",
    }
}

fn choice_text(measure: Option<&Measure>, at: usize) -> &str {
    match measure.map(|measure| &measure.kind) {
        Some(MeasureKind::Choice { choices }) => choices.get(at).map_or("", |choice| &**choice),
        _ => "",
    }
}

/// A row's value as text.
pub(crate) fn row_value_text(value: &RowValue) -> String {
    match value {
        RowValue::Number(number) => number.to_string(),
        RowValue::Label(label) => label.to_string(),
    }
}

/// One thing still wanted, with its distance: `2 more sessions with pain during exercise at or under 3`, `active
/// elevation 112 of 120 deg`.
#[must_use]
pub fn missing_text(pack: &Pack, missing: &Missing) -> String {
    let Some(sentence) = pack.sentences.get(missing.sentence.at()) else {
        return format!("`{}`", missing.rule);
    };
    let unknown = if missing.verdict == Verdict::Unknown {
        " (not known)"
    } else {
        ""
    };
    let measure = subject_measure(pack, sentence);
    let Some(name) = measure.map(|measure| &*measure.name) else {
        return format!("{}{unknown}", sentence.text);
    };
    if let Some(count) = missing.sessions_more.filter(|count| *count > 0) {
        let sessions = if count == 1 { "session" } else { "sessions" };
        return format!(
            "{count} more {sessions} with {name} {}{unknown}",
            plain_limit(pack, sentence)
        );
    }
    match missing.distance {
        Some((now, wanted)) => format!("{name} {now} of {}{unknown}", number_text(measure, wanted)),
        None => format!("{}{unknown}", sentence.text),
    }
}

/// The limit as people say it of a value: `at or under 3`.
fn plain_limit(pack: &Pack, sentence: &Sentence) -> String {
    let measure = subject_measure(pack, sentence);
    match &sentence.relation {
        Relation::Compare(compare, amount) => {
            let words = match compare {
                Compare::AtMost => "at or under",
                Compare::AtLeast => "at or over",
                Compare::Below => "under",
                Compare::Above => "over",
            };
            format!("{words} {}", amount_text(pack, measure, *amount))
        }
        _ => limit_text(pack, sentence),
    }
}

/// Who vouches for a number.
#[must_use]
pub fn grounds_text(pack: &Pack, grounds: &Grounds) -> String {
    match grounds {
        Grounds::Source { key, states } => {
            let source = pack.sources.get(key).map_or(&**key, String::as_str);
            if states.is_empty() {
                source.to_owned()
            } else {
                format!("{source}, which states {states}")
            }
        }
        Grounds::Judgement { by, why } => format!("judgement of {by}: {why}"),
    }
}

/// Who is asked.
#[must_use]
pub const fn reporter_word(reporter: Reporter) -> &'static str {
    match reporter {
        Reporter::Patient => "patient",
        Reporter::Carer => "carer",
        Reporter::Clinician => "clinician",
        Reporter::Device => "device",
    }
}

/// An ask in one clause: what, of whom, by when, for which rule.
#[must_use]
pub fn ask_text(ask: &Ask) -> String {
    let what = match &ask.what {
        Wanted::Measure(measure) => format!("a value of `{measure}`"),
        Wanted::MorningAfter(date, number) => {
            format!("the morning after session {number} of {date}")
        }
        Wanted::Session => "a session".into(),
        Wanted::Review => "a review".into(),
        Wanted::Clearance(rule) => format!("the referral `{rule}` acted on and cleared"),
        Wanted::SignOff => "a sign-off of this proposal".into(),
        Wanted::Confirmation(position) => {
            format!(
                "a confirmation after the correction at position {}",
                position.0
            )
        }
        Wanted::Placement(exercise) => format!("a place for `{exercise}`"),
        Wanted::Band(exercise) => {
            format!("a measured band, the standing height, or room for the load of `{exercise}`")
        }
    };
    let rule = ask
        .rule
        .as_ref()
        .map_or_else(String::new, |rule: &Key| format!(", for `{rule}`"));
    format!(
        "{what}, of the {}, by {}{rule}",
        reporter_word(ask.of),
        ask.by
    )
}
