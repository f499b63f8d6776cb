//! Decisions to messages.
//!
//! Leaves to others: what is prescribed (`super::prescription`), the words (`super::explanation`).

use super::{reporter_to_wire, timestamp_from_ms, word_or_empty, words};
use crate::name::{EpisodeName, pack_name};
use crate::v1::{self, AskKind, CauseKind};
use rungwise_engine::decision::{
    Ask, Cause, Decision, LineMove, Missing, Move, RuleVerdict, Verdict, Wanted,
};
use rungwise_engine::explain::binds_text;
use rungwise_engine::fact::Position;
use rungwise_pack::model::{MeasureKind, Outcome, Pack, Subject};

/// A decision's place in the record; a preview has none.
#[derive(Clone, Copy, Debug)]
pub struct DecisionAt {
    /// The how-manieth of its episode, from 0.
    pub number: u32,
    /// Where it stands in the ledger.
    pub position: u64,
    /// When it was recorded, milliseconds since 1970 UTC.
    pub recorded_at_ms: u64,
}

/// A decision of `episode`. `pack` must be the one it was made under, whose sentences it speaks of.
#[must_use]
pub fn decision_to_wire(
    pack: &Pack,
    episode: &EpisodeName,
    at: Option<DecisionAt>,
    decision: &Decision,
) -> v1::Decision {
    v1::Decision {
        name: at.map(|at| episode.decision(at.number)).unwrap_or_default(),
        number: at.map(|at| at.number).unwrap_or_default(),
        as_of: decision.as_of.to_string(),
        recorded_at: at.map(|at| timestamp_from_ms(at.recorded_at_ms)),
        position: at.map(|at| at.position).unwrap_or_default(),
        semantics: decision.semantics,
        pack: pack_name(&episode.clinic, &decision.pack),
        outcome: outcome_to_wire(decision.outcome).into(),
        proposed: decision.proposed,
        prescribes: decision.prescribes,
        phase: word_or_empty(decision.state.phase.as_ref()),
        discharged: decision.state.discharged,
        latched_rules: words(&decision.state.latched),
        moves: decision
            .moves
            .iter()
            .map(|line| move_to_wire(episode, line))
            .collect(),
        because: causes_to_wire(episode, &decision.because),
        to_progress: decision
            .to_progress
            .iter()
            .map(|missing| missing_to_wire(pack, missing))
            .collect(),
        asks: decision
            .asks
            .iter()
            .map(|ask| ask_to_wire(episode, ask))
            .collect(),
        next_review: decision.next_review.to_string(),
    }
}

/// An outcome.
#[must_use]
pub const fn outcome_to_wire(outcome: Outcome) -> v1::Outcome {
    match outcome {
        Outcome::Refer => v1::Outcome::Refer,
        Outcome::Regress => v1::Outcome::Regress,
        Outcome::Hold => v1::Outcome::Hold,
        Outcome::Await => v1::Outcome::Await,
        Outcome::Continue => v1::Outcome::Continue,
        Outcome::Begin => v1::Outcome::Begin,
        Outcome::Progress => v1::Outcome::Progress,
        Outcome::Discharge => v1::Outcome::Discharge,
    }
}

pub(super) const fn move_word_to_wire(mv: Move) -> v1::Move {
    match mv {
        Move::Withdraw => v1::Move::Withdraw,
        Move::Back => v1::Move::Back,
        Move::Ease => v1::Move::Ease,
        Move::Keep => v1::Move::Keep,
        Move::Climb => v1::Move::Climb,
        Move::Forward => v1::Move::Forward,
        Move::Introduce => v1::Move::Introduce,
        Move::Return => v1::Move::Return,
    }
}

fn move_to_wire(episode: &EpisodeName, line: &LineMove) -> v1::LineMove {
    v1::LineMove {
        line: line.line.to_string(),
        r#move: move_word_to_wire(line.mv).into(),
        before: word_or_empty(line.from.as_ref()),
        after: word_or_empty(line.to.as_ref()),
        because: causes_to_wire(episode, &line.because),
    }
}

fn causes_to_wire(episode: &EpisodeName, causes: &[Cause]) -> Vec<v1::Cause> {
    causes
        .iter()
        .map(|cause| cause_to_wire(episode, cause))
        .collect()
}

pub(super) fn cause_to_wire(episode: &EpisodeName, cause: &Cause) -> v1::Cause {
    let kind = cause_kind(cause);
    let mut wire = v1::Cause {
        kind: kind.into(),
        ..v1::Cause::default()
    };
    match cause {
        Cause::Met(about)
        | Cause::Doubt(about)
        | Cause::MetBefore(about)
        | Cause::Latched(about)
        | Cause::NotMet(about)
        | Cause::LimitValueMissing(about)
        | Cause::Unmapped(about) => wire.about = about.to_string(),
        Cause::OverLimit { limit, session } | Cause::OverLimitTwice { limit, session } => {
            wire.about = word_or_empty(limit.as_ref());
            wire.session_date = session.0.to_string();
            wire.session_number = session.1.into();
        }
        Cause::Needs(variable) => variable.word().clone_into(&mut wire.about),
        Cause::LayOff { days } => wire.days = *days,
        Cause::Directive(Position(at)) | Cause::Corrected(Position(at)) => {
            wire.fact = episode.fact(*at)
        }
        Cause::NothingLeft
        | Cause::NoCountedSession
        | Cause::RungNotReached
        | Cause::AtTop
        | Cause::NoSlot
        | Cause::Withdrawn
        | Cause::ScreeningUnanswered
        | Cause::Outcome
        | Cause::Discharged
        | Cause::Comfortable
        | Cause::LineEnds
        | Cause::NothingNew
        | Cause::LoadUnmeasured => {}
        Cause::NoBandFits(binds) => wire.detail = binds_text(*binds),
    }
    wire
}

const fn cause_kind(cause: &Cause) -> CauseKind {
    match cause {
        Cause::Met(_) => CauseKind::Met,
        Cause::Doubt(_) => CauseKind::Doubt,
        Cause::MetBefore(_) => CauseKind::MetBefore,
        Cause::Latched(_) => CauseKind::Latched,
        Cause::NotMet(_) => CauseKind::NotMet,
        Cause::OverLimit { .. } => CauseKind::OverLimit,
        Cause::OverLimitTwice { .. } => CauseKind::OverLimitTwice,
        Cause::NothingLeft => CauseKind::NothingLeft,
        Cause::LayOff { .. } => CauseKind::LayOff,
        Cause::Directive(_) => CauseKind::Directive,
        Cause::Corrected(_) => CauseKind::Corrected,
        Cause::NoCountedSession => CauseKind::NoCountedSession,
        Cause::LimitValueMissing(_) => CauseKind::LimitValueMissing,
        Cause::RungNotReached => CauseKind::RungNotReached,
        Cause::Needs(_) => CauseKind::Needs,
        Cause::AtTop => CauseKind::AtTop,
        Cause::NoSlot => CauseKind::NoSlot,
        Cause::Withdrawn => CauseKind::Withdrawn,
        Cause::ScreeningUnanswered => CauseKind::ScreeningUnanswered,
        Cause::Outcome => CauseKind::Outcome,
        Cause::Discharged => CauseKind::Discharged,
        Cause::Comfortable => CauseKind::Comfortable,
        Cause::LineEnds => CauseKind::LineEnds,
        Cause::Unmapped(_) => CauseKind::Unmapped,
        Cause::NothingNew => CauseKind::NothingNew,
        Cause::LoadUnmeasured => CauseKind::LoadUnmeasured,
        Cause::NoBandFits(_) => CauseKind::NoBandFits,
    }
}

pub(super) const fn verdict_to_wire(verdict: Verdict) -> v1::Verdict {
    match verdict {
        Verdict::Met => v1::Verdict::Met,
        Verdict::NotMet => v1::Verdict::NotMet,
        Verdict::Unknown => v1::Verdict::Unknown,
        Verdict::NotYetFull => v1::Verdict::NotYetFull,
    }
}

pub(super) const fn rule_verdict_to_wire(verdict: RuleVerdict) -> v1::Verdict {
    match verdict {
        RuleVerdict::Met => v1::Verdict::Met,
        RuleVerdict::NotMet => v1::Verdict::NotMet,
        RuleVerdict::InDoubt => v1::Verdict::Unknown,
    }
}

fn missing_to_wire(pack: &Pack, missing: &Missing) -> v1::Missing {
    let sentence = pack.sentences.get(missing.sentence.at());
    let measure = sentence.and_then(|sentence| match &sentence.subject {
        Subject::Measure { measure, .. } => pack.measures.get(measure.at()),
        Subject::Reached { .. } => None,
    });
    let unit = match measure.map(|measure| &measure.kind) {
        Some(MeasureKind::Number { unit, .. }) if missing.distance.is_some() => {
            unit.code.to_string()
        }
        _ => String::new(),
    };
    let (now, wanted) = missing
        .distance
        .map(|(now, wanted)| (now.to_string(), wanted.to_string()))
        .unwrap_or_default();
    v1::Missing {
        rule: missing.rule.to_string(),
        sentence: sentence
            .map(|sentence| sentence.text.clone())
            .unwrap_or_default(),
        verdict: verdict_to_wire(missing.verdict).into(),
        sessions_more: missing.sessions_more.map(u32::from),
        value_now: now,
        value_wanted: wanted,
        unit,
    }
}

/// Something wanted.
#[must_use]
pub fn ask_to_wire(episode: &EpisodeName, ask: &Ask) -> v1::Ask {
    let mut wire = v1::Ask {
        of: reporter_to_wire(ask.of),
        by: ask.by.to_string(),
        rule: word_or_empty(ask.rule.as_ref()),
        ..v1::Ask::default()
    };
    let kind = match &ask.what {
        Wanted::Measure(_) => AskKind::Measure,
        Wanted::MorningAfter(..) => AskKind::MorningAfter,
        Wanted::Session => AskKind::Session,
        Wanted::Review => AskKind::Review,
        Wanted::Clearance(_) => AskKind::Clearance,
        Wanted::SignOff => AskKind::SignOff,
        Wanted::Confirmation(_) => AskKind::Confirmation,
        Wanted::Placement(_) => AskKind::Placement,
        Wanted::Band(_) => AskKind::Band,
    };
    wire.kind = kind.into();
    match &ask.what {
        Wanted::Measure(about)
        | Wanted::Clearance(about)
        | Wanted::Placement(about)
        | Wanted::Band(about) => {
            wire.about = about.to_string();
        }
        Wanted::MorningAfter(date, number) => {
            wire.session_date = date.to_string();
            wire.session_number = u32::from(*number);
        }
        Wanted::Confirmation(Position(at)) => wire.fact = episode.fact(*at),
        Wanted::Session | Wanted::Review | Wanted::SignOff => {}
    }
    wire
}
