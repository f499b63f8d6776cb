//! What is missing, what is asked for, and when to look again.
//!
//! Leaves to others: the words (`crate::explain`, `crate::wanted`).

use super::case::Case;
use super::course::upward_scope;
use super::fitting::is_left_out;
use super::lay_off::next_row;
use super::report::Draft;
use crate::decision::{Ask, Cause, Missing, Verdict, Wanted};
use crate::evaluate::{
    Judged, Read, Reader, Scope, SeenValue, SentenceTrace, Tap, lacking, trace_sentence,
};
use jiff::civil::Date;
use rungwise_pack::model::{
    Amount, Carrier, MeasureIx, Origin, Pack, Polarity, Relation, Reporter, RuleIx, Sentence,
    Subject, Window,
};
use rungwise_pack::quantity::Key;

/// The smallest list of sentences that the rules of the next phase (or of discharge) still lack.
pub(crate) fn to_progress(case: &Case<'_>, upward: &[(RuleIx, Judged)]) -> Vec<Missing> {
    let mut found = Vec::new();
    for (ix, judged) in upward.iter().filter(|(_, judged)| !judged.met()) {
        let Some(rule) = case.pack.rules.get(ix.at()) else {
            continue;
        };
        for (at, sentence, negated) in lacking(&rule.when, &judged.sentences) {
            let trace = trace_sentence(case.view(), upward_scope(case), sentence, negated);
            let verdict = judged.sentences.get(at).map(|(_, verdict)| *verdict);
            found.push(Missing {
                rule: rule.key.clone(),
                sentence,
                verdict: verdict.unwrap_or(Verdict::Unknown),
                sessions_more: trace.sessions_more,
                distance: trace.value.zip(trace.wanted),
            });
        }
    }
    found
}

/// The date on which to look again at the latest.
pub(crate) fn next_review(case: &Case<'_>) -> Date {
    let mut earliest = after(case.as_of, i64::from(case.pack.review_days));
    let mut by = |date: Date| {
        if date > case.as_of && date < earliest {
            earliest = date;
        }
    };
    if let Some(row) = next_row(case) {
        by(row);
    }
    for until in case.binding().filter_map(|one| one.directive.until) {
        by(after(until, 1));
    }
    let tap = Tap::default();
    let reader = Reader::new(case.view(), Scope::CAUTIOUS, &tap);
    for (ix, measure) in (0u16..).map(MeasureIx).zip(&case.pack.measures) {
        let Some(fresh) = measure.fresh_days else {
            continue;
        };
        let reported = matches!(measure.origin, Origin::Reported);
        if !reported || !measure.expected || measure.carrier != Carrier::Assessment {
            continue;
        }
        let (read, context) = reader.latest(ix, None);
        if let (Read::Known(_), Some(date)) = (read, context.date()) {
            by(after(date, i64::from(fresh).saturating_add(1)));
        }
    }
    earliest
}

/// So many days later; the last date there is where that is past it.
fn after(date: Date, days: i64) -> Date {
    jiff::Span::new()
        .try_days(days)
        .and_then(|days| date.checked_add(days))
        .unwrap_or(Date::MAX)
}

/// Everything that is wanted.
pub(crate) fn asks(
    case: &Case<'_>,
    draft: &Draft,
    proposed: bool,
    next_review: Date,
    to_progress: &[Missing],
) -> Vec<Ask> {
    let mut asks = Asks {
        case,
        next_review,
        found: Vec::with_capacity(ASKS_USUAL),
    };
    for ix in &draft.unanswered {
        asks.measure(*ix, None);
    }
    for (ix, judged) in &draft.judged {
        asks.of_rule(*ix, judged);
    }
    for missing in to_progress.iter().filter(|one| one.sessions_more > Some(0)) {
        let rule = Some(missing.rule.clone());
        asks.push(Wanted::Session, Reporter::Patient, next_review, rule);
    }
    for one in &draft.moves {
        for cause in &one.because {
            asks.lacking(cause);
        }
    }
    for cause in &draft.because {
        asks.lacking(cause);
    }
    for ix in &draft.reviews {
        let rule = case.pack.rules.get(ix.at()).map(|rule| rule.key.clone());
        asks.clinician(Wanted::Review, rule);
    }
    let empty = draft.prescribes && !proposed && draft.full.spots.is_empty();
    if draft.lay_off_review || empty {
        asks.clinician(Wanted::Review, None);
    }
    for rule in &draft.latched {
        asks.clinician(Wanted::Clearance(rule.clone()), Some(rule.clone()));
    }
    if proposed {
        asks.clinician(Wanted::SignOff, None);
    }
    for position in &draft.corrected {
        asks.clinician(Wanted::Confirmation(*position), None);
    }
    for one in &draft.moves {
        let unfit = |cause: &Cause| matches!(cause, Cause::LoadUnmeasured | Cause::NoBandFits(_));
        if let Some(to) = one.to.as_ref().filter(|_| one.because.iter().any(unfit)) {
            asks.clinician(Wanted::Band(to.clone()), None);
        }
    }
    for spot in draft
        .full
        .spots
        .iter()
        .filter(|spot| is_left_out(spot).is_some())
    {
        if let Some(exercise) = case.pack.exercises.get(spot.exercise.at()) {
            asks.clinician(Wanted::Band(exercise.key.clone()), None);
        }
    }
    for key in &case.stand.unmapped {
        asks.clinician(Wanted::Placement(key.clone()), None);
    }
    asks.sorted()
}

/// Room for as many asks as are usual before each is kept once.
const ASKS_USUAL: usize = 48;

struct Asks<'c, 'a> {
    case: &'c Case<'a>,
    next_review: Date,
    found: Vec<Ask>,
}

impl Asks<'_, '_> {
    /// In order, each once; one for no rule only where none is for a rule.
    fn sorted(self) -> Vec<Ask> {
        let mut found = self.found;
        found.sort_unstable();
        found.dedup();
        let named = |ask: &Ask| {
            let mut others = found.iter();
            others.any(|other| other.rule.is_some() && other.what == ask.what)
        };
        let keep: Vec<bool> = found
            .iter()
            .map(|ask| ask.rule.is_some() || !named(ask))
            .collect();
        let mut keep = keep.into_iter();
        found.retain(|_| keep.next().unwrap_or(true));
        found
    }

    fn push(&mut self, what: Wanted, of: Reporter, by: Date, rule: Option<Key>) {
        self.found.push(Ask { what, of, by, rule });
    }

    fn clinician(&mut self, what: Wanted, rule: Option<Key>) {
        self.push(what, Reporter::Clinician, self.case.as_of, rule);
    }

    /// Asks for a reported measure, of whoever reports it first.
    fn measure(&mut self, ix: MeasureIx, rule: Option<Key>) {
        let Some(measure) = self.case.pack.measures.get(ix.at()) else {
            return;
        };
        match &measure.origin {
            Origin::Reported => {}
            Origin::Combined(combined) => {
                for part in combined.parts() {
                    self.measure(part, rule.clone());
                }
                return;
            }
            Origin::Computed(_) | Origin::Defined(_) => return,
        }
        let of = measure.reported_by.first().copied();
        let by = match measure.carrier {
            Carrier::Screening => self.case.as_of,
            _ => self.next_review,
        };
        let what = Wanted::Measure(measure.name.clone());
        self.push(what, of.unwrap_or(Reporter::Patient), by, rule);
    }

    fn lacking(&mut self, cause: &Cause) {
        if let Cause::LimitValueMissing(name) = cause
            && let Some(ix) = self.case.pack.measure(name)
        {
            self.measure(ix, None);
        }
    }

    /// Asks for the values that leave a rule in doubt.
    fn of_rule(&mut self, ix: RuleIx, judged: &Judged) {
        if !judged.in_doubt() {
            return;
        }
        let Some(rule) = self.case.pack.rules.get(ix.at()) else {
            return;
        };
        let scope = super::scope_of(self.case, rule);
        for (ix, verdict) in &judged.sentences {
            if *verdict != Verdict::Unknown {
                continue;
            }
            let Some(sentence) = self.case.pack.sentences.get(ix.at()) else {
                continue;
            };
            // What an assessment or a screening lacks is plain; what a session lacks must be looked for.
            match single_sheet(self.case.pack, sentence) {
                Some(measure) => {
                    self.measure(measure, Some(rule.key.clone()));
                }
                None => {
                    let trace = trace_sentence(self.case.view(), scope, *ix, false);
                    self.missing(&trace, &rule.key, scope.polarity);
                }
            }
        }
    }

    fn missing(&mut self, trace: &SentenceTrace, rule: &Key, polarity: Polarity) {
        for seen in trace
            .seen
            .iter()
            .filter(|one| one.value == SeenValue::Missing)
        {
            let Some(measure) = self.case.pack.measures.get(seen.measure.at()) else {
                continue;
            };
            if measure.carrier == Carrier::MorningAfter && seen.position.is_none() {
                let sessions = self.case.history.index().sessions.iter().rev();
                let day = sessions.clone().find(|one| one.date == seen.date);
                let number = day.map_or(1, |day| day.number);
                let what = Wanted::MorningAfter(seen.date, number);
                let of = measure.reported_by.first().copied();
                let by = match polarity {
                    Polarity::Cautious => self.case.as_of,
                    Polarity::Upward => self.next_review,
                };
                self.push(
                    what,
                    of.unwrap_or(Reporter::Patient),
                    by,
                    Some(rule.clone()),
                );
            } else {
                self.measure(seen.measure, Some(rule.clone()));
            }
        }
    }
}

/// The measure of a sentence that reads nothing but that measure's latest value on an assessment or a screening.
pub(super) fn single_sheet(pack: &Pack, sentence: &Sentence) -> Option<MeasureIx> {
    let Subject::Measure { measure, .. } = sentence.subject else {
        return None;
    };
    let carrier = pack.measures.get(measure.at())?.carrier;
    let sheet = matches!(carrier, Carrier::Assessment | Carrier::Screening);
    let plain = matches!(
        &sentence.relation,
        Relation::Compare(_, Amount::Fixed(_))
            | Relation::Is(_)
            | Relation::IsNot(_)
            | Relation::NoWorseThan(_)
    );
    (sheet && plain && sentence.window == Window::Latest).then_some(measure)
}
