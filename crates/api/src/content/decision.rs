//! Decisions to stored messages and back.
//!
//! Leaves to others: what stands after them (`super::state`), the values inside (`super::value`).

use super::DecodeError;
use super::band::{binds_from_stored, binds_to_stored};
use super::state::{state_from_stored, state_to_stored};
use super::value::{
    date_from_stored, date_to_stored, digest_from_stored, reporter_from_stored, reporter_to_stored,
    small, unknown, variable_from_stored, variable_to_stored,
};
use crate::stored;
use jiff::civil::Date;
use rungwise_engine::decision::{
    Ask, Cause, Decision, Finding, LineMove, Missing, Move, RuleVerdict, Verdict, Wanted,
};
use rungwise_engine::fact::Position;
use rungwise_pack::model::{Outcome, RuleIx, SentenceIx};
use rungwise_pack::quantity::{Key, Milli};

pub(super) fn decision_to_stored(decision: &Decision) -> stored::Decision {
    stored::Decision {
        as_of: date_to_stored(decision.as_of),
        semantics: decision.semantics,
        pack: decision.pack.to_vec(),
        outcome: outcome_to_stored(decision.outcome),
        proposed: decision.proposed,
        prescribes: decision.prescribes,
        moves: decision.moves.iter().map(move_to_stored).collect(),
        state: Some(state_to_stored(&decision.state)),
        if_accepted: decision.if_accepted.as_ref().map(state_to_stored),
        findings: decision.findings.iter().map(finding_to_stored).collect(),
        because: causes_to_stored(&decision.because),
        to_progress: decision.to_progress.iter().map(missing_to_stored).collect(),
        asks: decision.asks.iter().map(ask_to_stored).collect(),
        next_review: date_to_stored(decision.next_review),
    }
}

pub(super) fn decision_from_stored(decision: stored::Decision) -> Result<Decision, DecodeError> {
    let list = decision.findings.into_iter().map(finding_from_stored);
    Ok(Decision {
        as_of: date_from_stored("decision.as_of", decision.as_of)?,
        semantics: decision.semantics,
        pack: digest_from_stored("decision.pack", &decision.pack)?,
        outcome: outcome_from_stored(decision.outcome)?,
        proposed: decision.proposed,
        prescribes: decision.prescribes,
        moves: decision
            .moves
            .into_iter()
            .map(move_from_stored)
            .collect::<Result<_, _>>()?,
        state: state_from_stored(
            decision
                .state
                .ok_or(DecodeError::Absent("decision.state"))?,
        )?,
        if_accepted: decision.if_accepted.map(state_from_stored).transpose()?,
        findings: list.collect::<Result<_, _>>()?,
        because: causes_from_stored(decision.because)?,
        to_progress: decision
            .to_progress
            .into_iter()
            .map(missing_from_stored)
            .collect::<Result<_, _>>()?,
        asks: decision
            .asks
            .into_iter()
            .map(ask_from_stored)
            .collect::<Result<_, _>>()?,
        next_review: date_from_stored("decision.next_review", decision.next_review)?,
    })
}

fn outcome_to_stored(outcome: Outcome) -> i32 {
    match outcome {
        Outcome::Refer => stored::Outcome::Refer,
        Outcome::Regress => stored::Outcome::Regress,
        Outcome::Hold => stored::Outcome::Hold,
        Outcome::Await => stored::Outcome::Await,
        Outcome::Continue => stored::Outcome::Continue,
        Outcome::Begin => stored::Outcome::Begin,
        Outcome::Progress => stored::Outcome::Progress,
        Outcome::Discharge => stored::Outcome::Discharge,
    }
    .into()
}

fn outcome_from_stored(value: i32) -> Result<Outcome, DecodeError> {
    Ok(match stored::Outcome::try_from(value) {
        Ok(stored::Outcome::Refer) => Outcome::Refer,
        Ok(stored::Outcome::Regress) => Outcome::Regress,
        Ok(stored::Outcome::Hold) => Outcome::Hold,
        Ok(stored::Outcome::Await) => Outcome::Await,
        Ok(stored::Outcome::Continue) => Outcome::Continue,
        Ok(stored::Outcome::Begin) => Outcome::Begin,
        Ok(stored::Outcome::Progress) => Outcome::Progress,
        Ok(stored::Outcome::Discharge) => Outcome::Discharge,
        Ok(stored::Outcome::Unspecified) | Err(_) => return Err(unknown("outcome", value)),
    })
}

fn move_to_stored(line: &LineMove) -> stored::LineMove {
    stored::LineMove {
        line: line.line.to_string(),
        r#move: match line.mv {
            Move::Withdraw => stored::Move::Withdraw,
            Move::Back => stored::Move::Back,
            Move::Ease => stored::Move::Ease,
            Move::Keep => stored::Move::Keep,
            Move::Climb => stored::Move::Climb,
            Move::Forward => stored::Move::Forward,
            Move::Introduce => stored::Move::Introduce,
            Move::Return => stored::Move::Return,
        }
        .into(),
        from: line.from.as_ref().map(ToString::to_string),
        to: line.to.as_ref().map(ToString::to_string),
        because: causes_to_stored(&line.because),
    }
}

fn move_from_stored(line: stored::LineMove) -> Result<LineMove, DecodeError> {
    let mv = match line.r#move() {
        stored::Move::Withdraw => Move::Withdraw,
        stored::Move::Back => Move::Back,
        stored::Move::Ease => Move::Ease,
        stored::Move::Keep => Move::Keep,
        stored::Move::Climb => Move::Climb,
        stored::Move::Forward => Move::Forward,
        stored::Move::Introduce => Move::Introduce,
        stored::Move::Return => Move::Return,
        stored::Move::Unspecified => return Err(unknown("move", line.r#move)),
    };
    Ok(LineMove {
        line: line.line.into(),
        mv,
        from: line.from.map(Key::from),
        to: line.to.map(Key::from),
        because: causes_from_stored(line.because)?,
    })
}

fn session_to_stored(date: Date, number: u8) -> stored::SessionKey {
    stored::SessionKey {
        date: date_to_stored(date),
        number: number.into(),
    }
}

fn session_from_stored(session: stored::SessionKey) -> Result<(Date, u8), DecodeError> {
    Ok((
        date_from_stored("session.date", session.date)?,
        small("session.number", session.number)?,
    ))
}

fn over_limit_to_stored(limit: Option<&Key>, (date, number): (Date, u8)) -> stored::OverLimit {
    stored::OverLimit {
        limit: limit.map(ToString::to_string),
        session: Some(session_to_stored(date, number)),
    }
}

fn over_limit_from_stored(
    over: stored::OverLimit,
) -> Result<(Option<Key>, (Date, u8)), DecodeError> {
    let session = over
        .session
        .ok_or(DecodeError::Absent("over_limit.session"))?;
    Ok((over.limit.map(Key::from), session_from_stored(session)?))
}

fn causes_to_stored(causes: &[Cause]) -> Vec<stored::Cause> {
    causes
        .iter()
        .map(|cause| stored::Cause {
            kind: Some(cause_to_stored(cause)),
        })
        .collect()
}

fn causes_from_stored(causes: Vec<stored::Cause>) -> Result<Vec<Cause>, DecodeError> {
    causes.into_iter().map(cause_from_stored).collect()
}

fn cause_to_stored(cause: &Cause) -> stored::cause::Kind {
    use stored::cause::Kind;
    match cause {
        Cause::Met(rule) => Kind::Met(rule.to_string()),
        Cause::Doubt(rule) => Kind::Doubt(rule.to_string()),
        Cause::MetBefore(rule) => Kind::MetBefore(rule.to_string()),
        Cause::Latched(rule) => Kind::Latched(rule.to_string()),
        Cause::NotMet(rule) => Kind::NotMet(rule.to_string()),
        Cause::OverLimit { limit, session } => {
            Kind::OverLimit(over_limit_to_stored(limit.as_ref(), *session))
        }
        Cause::OverLimitTwice { limit, session } => {
            Kind::OverLimitTwice(over_limit_to_stored(limit.as_ref(), *session))
        }
        Cause::NothingLeft => Kind::NothingLeft(true),
        Cause::LayOff { days } => Kind::LayOffDays(*days),
        Cause::Directive(at) => Kind::Directive(at.0),
        Cause::Corrected(at) => Kind::Corrected(at.0),
        Cause::NoCountedSession => Kind::NoCountedSession(true),
        Cause::LimitValueMissing(measure) => Kind::LimitValueMissing(measure.to_string()),
        Cause::RungNotReached => Kind::RungNotReached(true),
        Cause::Needs(variable) => Kind::Needs(variable_to_stored(*variable)),
        Cause::AtTop => Kind::AtTop(true),
        Cause::NoSlot => Kind::NoSlot(true),
        Cause::Withdrawn => Kind::Withdrawn(true),
        Cause::ScreeningUnanswered => Kind::ScreeningUnanswered(true),
        Cause::Outcome => Kind::Outcome(true),
        Cause::Discharged => Kind::Discharged(true),
        Cause::Comfortable => Kind::Comfortable(true),
        Cause::LineEnds => Kind::LineEnds(true),
        Cause::Unmapped(exercise) => Kind::Unmapped(exercise.to_string()),
        Cause::NothingNew => Kind::NothingNew(true),
        Cause::LoadUnmeasured => Kind::LoadUnmeasured(true),
        Cause::NoBandFits(binds) => Kind::NoBandFits(binds_to_stored(*binds)),
    }
}

fn cause_from_stored(cause: stored::Cause) -> Result<Cause, DecodeError> {
    use stored::cause::Kind;
    Ok(match cause.kind.ok_or(DecodeError::Absent("cause.kind"))? {
        Kind::Met(rule) => Cause::Met(rule.into()),
        Kind::Doubt(rule) => Cause::Doubt(rule.into()),
        Kind::MetBefore(rule) => Cause::MetBefore(rule.into()),
        Kind::Latched(rule) => Cause::Latched(rule.into()),
        Kind::NotMet(rule) => Cause::NotMet(rule.into()),
        Kind::OverLimit(over) => {
            let (limit, session) = over_limit_from_stored(over)?;
            Cause::OverLimit { limit, session }
        }
        Kind::OverLimitTwice(over) => {
            let (limit, session) = over_limit_from_stored(over)?;
            Cause::OverLimitTwice { limit, session }
        }
        Kind::NothingLeft(_) => Cause::NothingLeft,
        Kind::LayOffDays(days) => Cause::LayOff { days },
        Kind::Directive(at) => Cause::Directive(Position(at)),
        Kind::Corrected(at) => Cause::Corrected(Position(at)),
        Kind::NoCountedSession(_) => Cause::NoCountedSession,
        Kind::LimitValueMissing(measure) => Cause::LimitValueMissing(measure.into()),
        Kind::RungNotReached(_) => Cause::RungNotReached,
        Kind::Needs(variable) => Cause::Needs(variable_from_stored(variable)?),
        Kind::AtTop(_) => Cause::AtTop,
        Kind::NoSlot(_) => Cause::NoSlot,
        Kind::Withdrawn(_) => Cause::Withdrawn,
        Kind::ScreeningUnanswered(_) => Cause::ScreeningUnanswered,
        Kind::Outcome(_) => Cause::Outcome,
        Kind::Discharged(_) => Cause::Discharged,
        Kind::Comfortable(_) => Cause::Comfortable,
        Kind::LineEnds(_) => Cause::LineEnds,
        Kind::Unmapped(exercise) => Cause::Unmapped(exercise.into()),
        Kind::NothingNew(_) => Cause::NothingNew,
        Kind::LoadUnmeasured(_) => Cause::LoadUnmeasured,
        Kind::NoBandFits(binds) => Cause::NoBandFits(binds_from_stored(binds)?),
    })
}

/// A sentence's index times 4, plus its verdict.
fn sentence_to_stored(sentence: SentenceIx, verdict: Verdict) -> u32 {
    let verdict = match verdict {
        Verdict::Met => 0,
        Verdict::NotMet => 1,
        Verdict::Unknown => 2,
        Verdict::NotYetFull => 3,
    };
    u32::from(sentence.0).wrapping_mul(4).wrapping_add(verdict)
}

fn sentence_from_stored(value: u32) -> Result<(SentenceIx, Verdict), DecodeError> {
    let verdict = match value & 3 {
        0 => Verdict::Met,
        1 => Verdict::NotMet,
        2 => Verdict::Unknown,
        _ => Verdict::NotYetFull,
    };
    Ok((SentenceIx(small("sentence", value >> 2)?), verdict))
}

fn finding_to_stored(finding: &Finding) -> stored::Finding {
    stored::Finding {
        rule: finding.rule.0.into(),
        verdict: match finding.verdict {
            RuleVerdict::Met => 0,
            RuleVerdict::NotMet => 1,
            RuleVerdict::InDoubt => 2,
        },
        sentences: finding
            .sentences
            .iter()
            .map(|(sentence, verdict)| sentence_to_stored(*sentence, *verdict))
            .collect(),
    }
}

fn finding_from_stored(finding: stored::Finding) -> Result<Finding, DecodeError> {
    Ok(Finding {
        rule: RuleIx(small("finding.rule", finding.rule)?),
        verdict: match finding.verdict {
            0 => RuleVerdict::Met,
            1 => RuleVerdict::NotMet,
            2 => RuleVerdict::InDoubt,
            other => return Err(unknown("finding.verdict", other)),
        },
        sentences: finding
            .sentences
            .into_iter()
            .map(sentence_from_stored)
            .collect::<Result<_, _>>()?,
    })
}

fn missing_to_stored(missing: &Missing) -> stored::Missing {
    stored::Missing {
        rule: missing.rule.to_string(),
        sentence: sentence_to_stored(missing.sentence, missing.verdict),
        sessions_more: missing.sessions_more.map(u32::from),
        distance: missing.distance.map(|(now, wanted)| stored::Distance {
            now: now.0,
            wanted: wanted.0,
        }),
    }
}

fn missing_from_stored(missing: stored::Missing) -> Result<Missing, DecodeError> {
    let (sentence, verdict) = sentence_from_stored(missing.sentence)?;
    Ok(Missing {
        rule: missing.rule.into(),
        sentence,
        verdict,
        sessions_more: missing
            .sessions_more
            .map(|more| small("missing.sessions_more", more))
            .transpose()?,
        distance: missing.distance.map(|by| (Milli(by.now), Milli(by.wanted))),
    })
}

fn ask_to_stored(ask: &Ask) -> stored::Ask {
    use stored::ask::What;
    let what = match &ask.what {
        Wanted::Measure(measure) => What::Measure(measure.to_string()),
        Wanted::MorningAfter(date, number) => What::MorningAfter(session_to_stored(*date, *number)),
        Wanted::Session => What::Session(true),
        Wanted::Review => What::Review(true),
        Wanted::Clearance(rule) => What::Clearance(rule.to_string()),
        Wanted::SignOff => What::SignOff(true),
        Wanted::Confirmation(at) => What::Confirmation(at.0),
        Wanted::Placement(exercise) => What::Placement(exercise.to_string()),
        Wanted::Band(exercise) => What::Band(exercise.to_string()),
    };
    stored::Ask {
        what: Some(what),
        of: reporter_to_stored(ask.of),
        by: date_to_stored(ask.by),
        rule: ask.rule.as_ref().map(ToString::to_string),
    }
}

fn ask_from_stored(ask: stored::Ask) -> Result<Ask, DecodeError> {
    use stored::ask::What;
    let what = match ask.what.ok_or(DecodeError::Absent("ask.what"))? {
        What::Measure(measure) => Wanted::Measure(measure.into()),
        What::MorningAfter(session) => {
            let (date, number) = session_from_stored(session)?;
            Wanted::MorningAfter(date, number)
        }
        What::Session(_) => Wanted::Session,
        What::Review(_) => Wanted::Review,
        What::Clearance(rule) => Wanted::Clearance(rule.into()),
        What::SignOff(_) => Wanted::SignOff,
        What::Confirmation(at) => Wanted::Confirmation(Position(at)),
        What::Placement(exercise) => Wanted::Placement(exercise.into()),
        What::Band(exercise) => Wanted::Band(exercise.into()),
    };
    Ok(Ask {
        what,
        of: reporter_from_stored("ask.of", ask.of)?,
        by: date_from_stored("ask.by", ask.by)?,
        rule: ask.rule.map(Key::from),
    })
}
