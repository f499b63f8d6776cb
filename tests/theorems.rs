//! The theorems of section 5 as properties of generated packs and histories.
//!
//! `RUNGWISE_CASES` says how many cases each, `RUNGWISE_SEED` runs one case alone.

#![allow(
    clippy::panic,
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test"
)]

use jiff::civil::Date;
use rungwise_engine::decide::decide;
use rungwise_engine::decision::{Cause, Decision, Move, RuleVerdict};
use rungwise_engine::fact::{Body, Done, Fact, FactKind, Record, Session};
use rungwise_engine::history::History;
use rungwise_pack::model::{CheckedPack, Outcome, RuleKind};
use rungwise_pack::source::SourceFiles;
use rungwise_rehearsal::bolder::bolder;
use rungwise_tests::cases::{from_environment, run};
use rungwise_tests::change::{
    at, is_corrected, is_superseded, measure_of, possible, values, with, with_only, worse,
};
use rungwise_tests::generate::Dice;
use rungwise_tests::generate::history::{Asking, plus};
use rungwise_tests::generate::order::shuffled;
use rungwise_tests::generate::pack::{ANYTHING, Wish, checked, files};
use rungwise_tests::generate::report::differences;
use rungwise_tests::moment::{Moment, told_moves};
use rungwise_tests::perfect::course;
use std::path::Path;

/// Cases of each theorem where the environment does not say otherwise.
const CASES: u64 = 10_000;

/// Packs that refer to no other value: what caution-is-monotone speaks of.
const NO_REFERENCES: Wish = Wish {
    references: false,
    climbable: false,
};

/// Packs that somebody who never hurts can climb to the end.
const CLIMBABLE: Wish = Wish {
    references: false,
    climbable: true,
};

/// Ways of asking that a perfect patient has to come through.
const PATTERNS: [Asking; 4] = [
    Asking::Daily,
    Asking::EveryThird,
    Asking::Weekly,
    Asking::Sometimes,
];

fn cases() -> u64 {
    from_environment("RUNGWISE_CASES").unwrap_or(CASES)
}

/// Proves that making a reported value worse never makes the decision bolder.
#[test]
fn caution_is_monotone() {
    run(cases(), |seed| {
        let Some(moment) = Moment::of(seed, NO_REFERENCES) else {
            return Ok(());
        };
        let mut dice = Dice::new(seed);
        let before = moment.decide(&moment.records);
        let spots = values(&moment.records);
        for _ in 0..6.min(spots.len()) {
            let spot = dice.pick(&spots).clone();
            if is_corrected(&moment.records, &spot) {
                continue;
            }
            let reading = at(&moment.records, &spot).clone();
            let measure = measure_of(&moment.pack, &reading);
            let Some(value) = worse(&mut dice, measure, &reading.value) else {
                continue;
            };
            let after = moment.decide(&with(&moment.records, &spot, value.clone()));
            if let Some(why) = bolder(&after, &before) {
                return Err(format!(
                    "{}\n{reading:?} at {spot:?} made {value:?}: {why}\n  before {}\n  after  {}",
                    moment.story,
                    told_moves(&before),
                    told_moves(&after)
                ));
            }
        }
        Ok(())
    });
}

/// What a decision raises: its outcome, and each line that goes up.
fn raised(decision: &Decision) -> Vec<(String, Option<String>)> {
    let up = decision
        .moves
        .iter()
        .filter(|one| one.mv.rank() > Move::Keep.rank())
        // Lines that return because the phase goes back are part of going back ("no bolder": a REGRESS's returning
        // lines are not compared; below a REFER too, the phase goes back).
        .filter(|one| decision.outcome.rank() > Outcome::Regress.rank() || one.mv != Move::Return)
        // Rule 8: *place* moves, whatever the rules say.
        .filter(|one| {
            !one.because
                .iter()
                .any(|cause| matches!(cause, Cause::Directive(_)))
        })
        .map(|one| {
            (
                format!("{} {}", one.line, one.mv.word()),
                one.to.as_ref().map(ToString::to_string),
            )
        });
    let outcome = matches!(
        decision.outcome,
        Outcome::Begin | Outcome::Progress | Outcome::Discharge
    )
    .then(|| (decision.outcome.word().to_owned(), None));
    up.chain(outcome).collect()
}

/// Proves that what goes up without a value would go up for every possible one in its place.
#[test]
fn silence_never_progresses() {
    run(cases(), |seed| {
        let Some(moment) = Moment::of(seed, ANYTHING) else {
            return Ok(());
        };
        let mut dice = Dice::new(seed);
        let spots = values(&moment.records);
        for _ in 0..4.min(spots.len()) {
            let spot = dice.pick(&spots).clone();
            let reading = at(&moment.records, &spot).clone();
            let measure = measure_of(&moment.pack, &reading);
            // Missing is what a fact should carry (section 4): a value that is not expected leaves nothing missing. A
            // corrected value is not in force. Section 5 excepts what is superseded.
            if !measure.expected
                || is_corrected(&moment.records, &spot)
                || is_superseded(&moment.pack, &moment.records, &spot, moment.as_of)
            {
                continue;
            }
            let without = moment.decide(&with_only(&moment.records, &spot, None));
            let up = raised(&without);
            // Rule 11: it stands, and is not made.
            let stands = without.because.contains(&Cause::Discharged);
            if up.is_empty() || stands {
                continue;
            }
            for value in possible(measure) {
                let with = moment.decide(&with_only(&moment.records, &spot, Some(value.clone())));
                let also = raised(&with);
                // Rule 3: BEGIN is made all the same; a start rule begins it in a later phase, with other exercises.
                let begins = without.outcome == Outcome::Begin && with.outcome == Outcome::Begin;
                let further = begins && phase_of(&moment, &with) > phase_of(&moment, &without);
                let all = further
                    || referred_before(&moment, &with)
                    || up.iter().all(|one| also.contains(one));
                if !all && with.outcome.rank() <= without.outcome.rank() {
                    return Err(format!(
                        "{}\nwithout {reading:?} at {spot:?}: {}\n  with {value:?}: {}",
                        moment.story,
                        told_moves(&without),
                        told_moves(&with)
                    ));
                }
            }
        }
        Ok(())
    });
}

/// Whether a decision refers by what was so on an earlier day only. Rule 4: on that day only what is met counts, and
/// doubt, which a missing value leaves, does not.
fn referred_before(moment: &Moment, decision: &Decision) -> bool {
    decision.outcome == Outcome::Refer
        && !decision.findings.iter().any(|finding| {
            let kind = moment.pack.rules[finding.rule.at()].kind;
            matches!(kind, RuleKind::Refer { .. }) && finding.verdict == RuleVerdict::Met
        })
}

fn phase_of(moment: &Moment, decision: &Decision) -> Option<u16> {
    let state = decision.if_accepted.as_ref().unwrap_or(&decision.state);
    state
        .phase
        .as_ref()
        .and_then(|phase| moment.pack.phase(phase))
        .map(|phase| phase.0)
}

/// The first line that goes up in `after` although nothing was reported since `last`.
///
/// Excepted are: what an open proposal proposed, proposed again (rule 9: it may still be accepted), and the lines that
/// return because the phase goes back (rule 5: whatever the cap; going back may be by time alone, and below a REFER
/// too).
fn line_raised(last: &Decision, after: &Decision) -> Option<String> {
    let going_back = matches!(after.outcome, Outcome::Refer | Outcome::Regress)
        && after.state.phase != last.state.phase;
    let mut up = after
        .moves
        .iter()
        .filter(|one| one.mv.rank() > Move::Keep.rank());
    up.find(|one| {
        let mut proposed = last.moves.iter().filter(|_| is_again(last, after));
        let again = proposed
            .any(|other| other.line == one.line && other.mv == one.mv && other.to == one.to);
        let returns = going_back && one.mv == Move::Return;
        !again && !returns
    })
    .map(|one| format!("{} {}", one.line, one.mv.word()))
}

/// Whether `after` proposes again what `last` proposed.
fn is_again(last: &Decision, after: &Decision) -> bool {
    last.proposed && after.proposed && last.outcome == after.outcome
}

/// What raises in `after` although nothing was reported since `last`: a line, the phase, the end of care. Care that
/// had ended stands (rule 11), and a clinician's order to end it is no rule's doing (rule 8): it waits while something
/// holds.
fn raises(last: &Decision, after: &Decision) -> Option<String> {
    let ordered = |cause: &Cause| matches!(cause, Cause::Directive(_));
    let stands = after.outcome == Outcome::Discharge
        && (last.state.discharged || after.because.iter().any(ordered));
    let outcome = matches!(
        after.outcome,
        Outcome::Begin | Outcome::Progress | Outcome::Discharge
    );
    line_raised(last, after).or_else(|| {
        (outcome && !stands && !is_again(last, after)).then(|| after.outcome.word().to_owned())
    })
}

/// Whether something happens in the days after `from`, up to `to`: a fact is dated there, or a directive ends (rule 2:
/// an expiring directive may raise).
fn happens(records: &[Record], from: Date, to: Date) -> bool {
    let one = |fact: &Fact| {
        let until = match &fact.kind {
            FactKind::Directive(one) => one.until,
            _ => None,
        };
        (from < fact.date && fact.date <= to)
            || until.is_some_and(|until| from <= until && until < to)
    };
    records.iter().any(|record| match &record.body {
        Body::Fact(fact) => {
            one(fact)
                || matches!(&fact.kind, FactKind::Correction(correction)
                    if correction.replacement.as_ref().is_some_and(|fact| one(fact)))
        }
        Body::Decision(_) => false,
    })
}

/// Proves (i) to (iii) of rule 2: nothing moves without a new fact, time alone never raises, a session raises once.
#[test]
fn each_fact_moves_once() {
    run(cases(), |seed| {
        let Some(moment) = Moment::of(seed, ANYTHING) else {
            return Ok(());
        };
        let tell = |what: &str, decision: &Decision| {
            Err(format!(
                "{}\n{what}: {}",
                moment.story,
                told_moves(decision)
            ))
        };
        let last = moment.decide(&moment.records);
        let mut records = moment.records.clone();
        let position = records.last().map_or(1, |record| record.position.0 + 1);
        records.push(Record {
            position: rungwise_engine::fact::Position(position),
            recorded_on: moment.as_of,
            body: Body::Decision(Box::new(last.clone())),
        });
        let now = moment.decide(&records);
        let lowered = now.moves.iter().any(|one| one.mv < Move::Keep);
        let entered = now.state.phase != last.state.phase;
        if lowered || entered || line_raised(&last, &now).is_some() {
            return tell("moved without a new fact", &now);
        }
        for days in [1, 2, 5, 12, 40] {
            let until = plus(moment.as_of, days);
            // A fact is new if no decision that prescribed, signed off where that is asked for, saw it (rules 1 and 2):
            // before the first, all are.
            if last.state.phase.is_none() || happens(&records, moment.as_of, until) {
                break;
            }
            let later = moment.decide_on(&records, until);
            if let Some(what) = raises(&last, &later) {
                let raised = format!(
                    "{}\ntime raised after {days} days: {what}",
                    told_moves(&last)
                );
                return tell(&raised, &later);
            }
        }
        once_per_session(&records).map_or(Ok(()), |what| tell(&what, &last))
    });
}

/// More climbs of a line, or entries of a phase, than sessions. What is only proposed moves nothing.
fn once_per_session<'r>(records: &'r [Record]) -> Option<String> {
    let mut sessions = 0;
    let mut tried: Vec<&str> = Vec::new();
    let mut counted = |session: &'r Session| {
        sessions += 1;
        let done = session
            .exercises
            .iter()
            .filter(|one| one.done != Done::SkippedOtherwise);
        tried.extend(done.map(|one| &*one.exercise));
    };
    let mut entered = 0;
    let mut climbs: Vec<(&str, &str)> = Vec::new();
    for record in records {
        match &record.body {
            Body::Fact(fact) => match &fact.kind {
                FactKind::Session(session) => counted(session),
                // What is put in a session's place counts anew.
                FactKind::Correction(correction) => {
                    if let Some(FactKind::Session(session)) =
                        correction.replacement.as_ref().map(|fact| &fact.kind)
                    {
                        counted(session);
                    }
                }
                _ => {}
            },
            Body::Decision(decision) if !decision.proposed => {
                entered += usize::from(decision.outcome == Outcome::Progress);
                let up = decision.moves.iter().filter(|one| one.mv == Move::Climb);
                climbs.extend(up.filter_map(|one| Some((&*one.line, &**one.from.as_ref()?))));
            }
            Body::Decision(_) => {}
        }
    }
    let too_many = climbs.iter().find(|(_, exercise)| {
        climbs.iter().filter(|(_, other)| other == exercise).count()
            > tried.iter().filter(|other| *other == exercise).count()
    });
    if let Some((line, exercise)) = too_many {
        return Some(format!(
            "{line} climbed more often than {exercise} was done"
        ));
    }
    (entered > sessions).then(|| "more phases entered than sessions".to_owned())
}

/// Proves that the same input gives the same decision, and that the order of rules in a file never matters.
#[test]
fn same_bytes() {
    run(cases(), |seed| {
        let Some(moment) = Moment::of(seed, ANYTHING) else {
            return Ok(());
        };
        let one = moment.decide(&moment.records);
        let other = moment.decide(&moment.records);
        if one != other || format!("{one:?}") != format!("{other:?}") {
            return Err(format!(
                "{}\ndecided differently the second time",
                moment.story
            ));
        }
        let turned = rungwise_pack::check(&shuffled(&files(seed / 20, ANYTHING), seed));
        let Some(turned) = turned.pack else {
            return Err(format!(
                "refused in another order: {:#?}",
                turned.diagnostics
            ));
        };
        let records: Vec<Record> = moment
            .records
            .iter()
            .cloned()
            .map(|record| under(record, turned.digest))
            .collect();
        let history = History::of(&turned, moment.episode.clone(), records);
        let mut third = decide(&turned, &history, moment.as_of);
        let mut one = one;
        // Findings go by the numbers of rules, which follow the order in the files.
        for decision in [&mut one, &mut third] {
            decision.findings.clear();
            decision.because.sort();
        }
        let wrong = differences(&moment.pack, &one, &third);
        if !wrong.is_empty() || one.because != third.because || one.asks.len() != third.asks.len() {
            return Err(format!(
                "{}\nin another order: {wrong:#?}\n{:?}\n{:?}",
                moment.story, one.because, third.because
            ));
        }
        Ok(())
    });
}

/// The same record as if the pack had had this digest. Findings name rules by number and are left out.
fn under(mut record: Record, digest: [u8; 32]) -> Record {
    if let Body::Decision(decision) = &mut record.body {
        decision.pack = digest;
    }
    record
}

/// Proves that somebody who never hurts and reports everything reaches the end, however often one asks.
#[test]
fn a_perfect_patient_is_discharged() {
    run(cases(), |seed| {
        let pack = checked(seed / 4, CLIMBABLE);
        let asking = PATTERNS[(seed % 4) as usize];
        let course = course(&pack, asking, &mut Dice::new(seed));
        if course.discharged {
            return Ok(());
        }
        let last: Vec<String> = course
            .decisions
            .iter()
            .rev()
            .take(12)
            .map(told_moves)
            .collect();
        Err(format!(
            "stuck, asked {asking:?}; the last decisions, newest first:\n{}",
            last.join("\n")
        ))
    });
}

/// The files of a pack of this repository, diaries left out.
fn kept_pack(name: &str) -> CheckedPack {
    fn gather(folder: &Path, under: &str, files: &mut Vec<(String, String)>) {
        for entry in std::fs::read_dir(folder).unwrap() {
            let entry = entry.unwrap();
            let name = format!("{under}{}", entry.file_name().to_string_lossy());
            if entry.path().is_dir() {
                gather(&entry.path(), &format!("{name}/"), files);
            } else {
                files.push((name, std::fs::read_to_string(entry.path()).unwrap()));
            }
        }
    }
    let mut files = Vec::new();
    gather(
        &Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("../rules")
            .join(name),
        "",
        &mut files,
    );
    files.retain(|(name, _)| !name.starts_with("diaries/"));
    let checked = rungwise_pack::check(&SourceFiles::new(files));
    checked
        .pack
        .unwrap_or_else(|| panic!("{:#?}", checked.diagnostics))
}

/// Proves the same of the pack that is shipped.
#[test]
fn a_perfect_patient_is_discharged_from_the_rotator_cuff_pack() {
    let pack = kept_pack("rotator-cuff");
    run(4 * 25, |seed| {
        let asking = PATTERNS[(seed % 4) as usize];
        let course = course(&pack, asking, &mut Dice::new(seed));
        if course.discharged {
            return Ok(());
        }
        let last: Vec<String> = course
            .decisions
            .iter()
            .rev()
            .take(12)
            .map(told_moves)
            .collect();
        Err(format!(
            "stuck, asked {asking:?}; the last decisions, newest first:\n{}",
            last.join("\n")
        ))
    });
}
