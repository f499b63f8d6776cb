//! The forms that keep caution monotone: which way a sentence may point in its rule, and where rules must stand.
//!
//! Making any reported value worse must never make a decision bolder. So a sentence in an upward rule may be met by
//! better values only, and one in a cautious rule by worse values only; under an odd number of `none` it is the other
//! way round. Computed and undirected measures have no worse value to report and are exempt.
//!
//! Leaves to others: sentences that read a reference (`bounds`).

use super::combined::read_of_exercises;
use super::measures::measures;
use super::resolve::{Site, Sites};
use super::types::Judge;
use super::uses::{Use, leaves, uses};
use crate::diagnostic::{Code, Findings, Note};
use crate::model::{
    Carrier, Compare, Direction, Limit, MeasureKind, Origin, Over, Pack, Polarity, Relation,
    RuleKind, Sentence, SentenceIx, Span, Stat, Subject, Window, Worse,
};
use crate::quantity::Milli;

/// Which values of its measure make a sentence met.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum Side {
    /// Better ones: making the value better never makes it unmet.
    Better,
    /// Worse ones.
    Worse,
    /// The measure has no reported direction.
    Exempt,
    /// Neither: some in the middle.
    Middle,
}

/// Judges every sentence in every place where it is used.
pub(super) fn judge(pack: &Pack, sites: &Sites, findings: &mut Findings<'_>) {
    for one in uses(pack) {
        for (index, negated) in leaves(one.criterion) {
            let Some((sentence, site)) = both(pack, sites, index) else {
                continue;
            };
            let own = one.exercise.is_some();
            Judge {
                pack,
                site,
                own,
                findings: &mut *findings,
            }
            .sentence(sentence);
            polarity(pack, sentence, site, &one, negated, findings);
            if one.polarity == Polarity::Cautious {
                by_time_alone(pack, sentence, site, negated, findings);
            }
        }
    }
    let limits = pack
        .limits
        .iter()
        .chain(pack.phases.iter().flat_map(|phase| &phase.limits));
    for limit in limits.chain(pack.exercises.iter().flat_map(|exercise| &exercise.limits)) {
        judge_limit(pack, sites, limit, findings);
    }
    phases(pack, sites, findings);
}

pub(super) fn both<'a>(
    pack: &'a Pack,
    sites: &'a Sites,
    index: SentenceIx,
) -> Option<(&'a Sentence, &'a Site)> {
    pack.sentences
        .get(index.at())
        .zip(sites.sentences.get(index.at()))
}

fn side(pack: &Pack, sentence: &Sentence) -> Side {
    let Subject::Measure { measure, .. } = &sentence.subject else {
        return Side::Exempt;
    };
    let Some(measure) = pack.measures.get(measure.at()) else {
        return Side::Exempt;
    };
    if matches!(measure.origin, Origin::Computed(_)) || measure.worse == Worse::Neither {
        return Side::Exempt;
    }
    let last = match &measure.kind {
        MeasureKind::Choice { choices } => choices.len().saturating_sub(1),
        MeasureKind::Number { .. } => 0,
    };
    let met_by_lower = match &sentence.relation {
        Relation::Compare(Compare::AtMost | Compare::Below, _) => true,
        Relation::Compare(Compare::AtLeast | Compare::Above, _) => false,
        Relation::Change(direction, _, _) => *direction == Direction::Down,
        // Choices are declared best first, so a smaller index is better.
        Relation::NoWorseThan(_) => true,
        Relation::Is(choice) if choice.at() == 0 => true,
        Relation::Is(choice) if choice.at() == last => false,
        Relation::IsNot(choice) if choice.at() == last => true,
        Relation::IsNot(choice) if choice.at() == 0 => false,
        Relation::Is(_) | Relation::IsNot(_) | Relation::Between(..) => return Side::Middle,
        Relation::Reached => return Side::Exempt,
    };
    if met_by_lower == (measure.worse == Worse::Higher) {
        Side::Better
    } else {
        Side::Worse
    }
}

fn polarity(
    pack: &Pack,
    sentence: &Sentence,
    site: &Site,
    one: &Use<'_>,
    negated: bool,
    findings: &mut Findings<'_>,
) {
    let side = side(pack, sentence);
    let wanted = match (one.polarity, negated) {
        (Polarity::Upward, false) | (Polarity::Cautious, true) => Side::Better,
        (Polarity::Upward, true) | (Polarity::Cautious, false) => Side::Worse,
    };
    if side == Side::Exempt || side == wanted {
        return;
    }
    let at = site.text.part(&site.parts.relation);
    let name = match &sentence.subject {
        Subject::Measure { measure, .. } => pack
            .measures
            .get(measure.at())
            .map_or("", |measure| &measure.name),
        Subject::Reached { .. } => "",
    };
    if matches!(sentence.relation, Relation::Between(..)) {
        let message = format!("`between` on `{name}`, which has a worse direction");
        let note = Note::new(Code::BetweenDirected, at, message)
            .label("a worse value could make it met or unmet");
        findings.add(note.help("bound it on one side, with `at most` or `at least`"));
        return;
    }
    let (code, met_by) = match one.polarity {
        Polarity::Upward => (Code::UpwardPolarity, "something worse"),
        Polarity::Cautious => (Code::CautiousPolarity, "something better"),
    };
    let under = if negated { " under `none`" } else { "" };
    let message = format!(
        "{} that could be made met by {met_by} in `{name}`",
        one.what
    );
    let label = match side {
        Side::Better => format!("met by better values{under}"),
        Side::Worse => format!("met by worse values{under}"),
        _ => format!("met by some value in the middle{under}"),
    };
    findings.add(
        Note::new(code, at, message)
            .label(label)
            .help(turned(pack, sentence, wanted)),
    );
}

/// How a sentence of the wanted side is written.
fn turned(pack: &Pack, sentence: &Sentence, wanted: Side) -> String {
    let Subject::Measure { measure, .. } = &sentence.subject else {
        return String::new();
    };
    let Some(measure) = pack.measures.get(measure.at()) else {
        return String::new();
    };
    match &measure.kind {
        MeasureKind::Choice { choices } => {
            let (best, worst) = (choices.first(), choices.last());
            let (best, worst) = (best.map_or("", |c| c), worst.map_or("", |c| c));
            if wanted == Side::Better {
                format!("write `is {best}`, `is not {worst}` or `no worse than …` here")
            } else {
                format!(
                    "write `is {worst}` or `is not {best}` here, or `none = [\"… no worse than …\"]` for `worse than`"
                )
            }
        }
        MeasureKind::Number { .. } => {
            let lower = (wanted == Side::Better) == (measure.worse == Worse::Higher);
            let words = match (&sentence.relation, lower) {
                (Relation::Change(..), true) => "`down by at least`",
                (Relation::Change(..), false) => "`up by at least`",
                (_, true) => "`at most` or `below`",
                (_, false) => "`at least` or `above`",
            };
            format!(
                "only {words} can stand here, since {} values of `{}` are worse",
                worse(measure.worse),
                measure.name
            )
        }
    }
}

const fn worse(worse: Worse) -> &'static str {
    match worse {
        Worse::Higher => "higher",
        Worse::Lower => "lower",
        Worse::Neither => "no",
    }
}

/// An average or a total moves as days leave its window, without anything being reported.
fn by_time_alone(
    pack: &Pack,
    sentence: &Sentence,
    site: &Site,
    negated: bool,
    findings: &mut Findings<'_>,
) {
    let Window::Over(stat, Span::Days(_)) = sentence.window else {
        return;
    };
    let Subject::Measure { measure, .. } = &sentence.subject else {
        return;
    };
    let Some(measure) = pack.measures.get(measure.at()) else {
        return;
    };
    let negative = matches!(&measure.kind, MeasureKind::Number { min, .. } if *min < Milli(0));
    let lower = matches!(
        sentence.relation,
        Relation::Compare(Compare::AtMost | Compare::Below, _)
    );
    let moves = match stat {
        Stat::Average => true,
        // Time takes days away: a total of what is never negative can only shrink, unless it is compared with days
        // before.
        Stat::Total => {
            negative || lower != negated || matches!(sentence.relation, Relation::Change(..))
        }
        Stat::Worst | Stat::Best => false,
    };
    if moves {
        let at = site
            .parts
            .window
            .as_ref()
            .map_or(site.text.at, |span| site.text.part(span));
        let message = "time alone can make this cautious rule met";
        let note = Note::new(Code::ByTimeAlone, at, message)
            .label("days leave this window without a report");
        findings.add(note.help("`at worst`, or a count of sessions, moves with reports only"));
    }
}

fn judge_limit(pack: &Pack, sites: &Sites, limit: &Limit, findings: &mut Findings<'_>) {
    let Some((sentence, site)) = both(pack, sites, limit.sentence) else {
        return;
    };
    let refuse = |findings: &mut Findings<'_>, span, message: &str, label: &str| {
        findings.add(Note::new(Code::LimitForm, site.text.part(span), message).label(label));
    };
    let Subject::Measure { measure, over } = &sentence.subject else {
        return refuse(
            findings,
            &site.parts.subject,
            "a limit is about something felt in a session",
            "not a measure",
        );
    };
    let Some(measure) = pack.measures.get(measure.at()) else {
        return;
    };
    if let (true, Some(span)) = (*over != Over::Plain, &site.parts.quantifier) {
        return refuse(
            findings,
            span,
            "a limit holds for each exercise by itself",
            "leave this out",
        );
    }
    if let Some(span) = &site.parts.window {
        return refuse(
            findings,
            span,
            "a limit holds in each session by itself",
            "leave the window out",
        );
    }
    if let (Relation::Change(..), Some(span)) = (&sentence.relation, &site.parts.reference) {
        return refuse(
            findings,
            span,
            "a limit is about one session and not about a change",
            "compare with a number, or with a measure of the same session",
        );
    }
    let of_sessions = matches!(
        measure.carrier,
        Carrier::Exercise | Carrier::Session | Carrier::MorningAfter
    );
    if !of_sessions {
        return refuse(
            findings,
            &site.parts.subject,
            "a limit is about one session",
            "not reported session by session",
        );
    }
    let under = limit.condition.iter().flat_map(leaves);
    let under = under.filter_map(|(index, _)| pack.sentences.get(index.at()));
    let read = std::iter::once(sentence).chain(under).flat_map(measures);
    if let Some(ix) = read_of_exercises(pack, read) {
        let name = pack.measures.get(ix.at()).map_or("", |one| &one.name);
        return refuse(
            findings,
            &site.parts.subject,
            "a limit is about what is reported of a session",
            &format!("`{name}` is worked out of what is reported"),
        );
    }
    Judge {
        pack,
        site,
        own: true,
        findings: &mut *findings,
    }
    .sentence(sentence);
    // A limit is kept by better values and exceeded by worse ones, like an upward rule.
    let one = Use {
        criterion: &crate::model::Criterion::Sentence(limit.sentence),
        polarity: Polarity::Upward,
        exercise: None,
        what: "a limit",
    };
    polarity(pack, sentence, site, &one, false, findings);
}

fn phases(pack: &Pack, sites: &Sites, findings: &mut Findings<'_>) {
    let last = pack.phases.len().saturating_sub(1);
    for (at, (phase, place)) in pack.phases.iter().zip(&sites.phases).enumerate() {
        let of_kind = |kind: RuleKind| {
            let rules = phase
                .rules
                .iter()
                .filter_map(|rule| pack.rules.get(rule.at()).zip(sites.rules.get(rule.at())));
            rules.filter(move |(rule, _)| rule.kind == kind)
        };
        if at > 0 && of_kind(RuleKind::Enter).next().is_none() {
            let note = Note::new(
                Code::NoEnter,
                *place,
                format!("nothing enters `{}`", phase.key),
            );
            findings.add(note.help("add at least one `[[phase.enter]]` rule: every phase after the first must be earned"));
        }
        if at == last && of_kind(RuleKind::Discharge).next().is_none() {
            let note = Note::new(
                Code::NoDischarge,
                *place,
                format!("care never ends in `{}`", phase.key),
            );
            findings
                .add(note.help("add at least one `[[phase.discharge]]` rule to the last phase"));
        }
        let mut misplaced = Vec::new();
        if at == 0 {
            misplaced.extend(
                of_kind(RuleKind::Enter).map(|rule| (rule, "the first phase is where care begins")),
            );
            misplaced.extend(
                of_kind(RuleKind::Start)
                    .map(|rule| (rule, "the first phase is where care begins anyway")),
            );
        }
        if at != last {
            misplaced.extend(
                of_kind(RuleKind::Discharge)
                    .map(|rule| (rule, "care ends from the last phase only")),
            );
        }
        for ((rule, place), why) in misplaced {
            let message = format!("`{}` is never judged in `{}`", rule.key, phase.key);
            findings.add(Note::new(Code::RuleMisplaced, *place, message).label(why));
        }
    }
}
