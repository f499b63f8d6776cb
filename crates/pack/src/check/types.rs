//! Whether the parts of a sentence go together: units, ranges, windows, statistics, quantifiers.
//!
//! Leaves to others: whether a sentence may stand in its rule (`forms`, `bounds`).

use super::resolve::Site;
use crate::diagnostic::{Code, Findings, Note};
use crate::model::{
    Amount, Carrier, ChangeBy, Computed, Measure, MeasureIx, MeasureKind, Origin, Over, Pack,
    Reference, Relation, Sentence, Span, Stat, Subject, Window, Worse,
};
use crate::quantity::{Milli, Unit};
use crate::read::sentence::AmountPart;
use crate::unit;
use std::ops::Range;

/// Largest percentage that a sentence may ask for.
pub(crate) const PERCENT_MAX: i64 = 1_000;

/// A sentence being judged.
pub(super) struct Judge<'j, 'f> {
    pub(super) pack: &'j Pack,
    pub(super) site: &'j Site,
    /// Whether a per-exercise measure is one exercise's own here (its rule, or a limit).
    pub(super) own: bool,
    pub(super) findings: &'j mut Findings<'f>,
}

impl Judge<'_, '_> {
    /// Reports everything about `sentence` that does not go together.
    pub(super) fn sentence(&mut self, sentence: &Sentence) {
        match &sentence.subject {
            Subject::Reached {
                which,
                variable,
                value,
            } => self.reached(*which, *variable, value),
            Subject::Measure { measure, over } => {
                let pack = self.pack;
                if let Some(measure) = pack.measures.get(measure.at()) {
                    self.quantifier(measure, *over, sentence);
                    self.window(measure, sentence.window);
                    self.relation(measure, sentence);
                }
            }
        }
    }

    pub(super) fn add(
        &mut self,
        code: Code,
        span: &Range<usize>,
        message: impl Into<String>,
        label: &str,
    ) {
        let note = Note::new(code, self.site.text.part(span), message);
        self.findings.add(note.label(label));
    }

    fn quantifier(&mut self, measure: &Measure, over: Over, sentence: &Sentence) {
        let span = self
            .site
            .parts
            .quantifier
            .clone()
            .unwrap_or_else(|| self.site.parts.subject.clone());
        let name = &measure.name;
        let of_one = matches!(over, Over::Of(_)) && changes_weekly(measure);
        if over != Over::Plain && measure.carrier != Carrier::Exercise && !of_one {
            let message = format!("`{name}` is not reported exercise by exercise");
            return self.add(
                Code::Quantifier,
                &span,
                message,
                "only measures carried by exercises have this",
            );
        }
        if let Over::AtLeastExercises(k) = over
            && usize::from(k) > self.pack.lines.len()
        {
            let message = format!("nobody has {k} exercises at a time");
            self.add(
                Code::Count,
                &span,
                message,
                "an episode has at most one place on each line",
            );
        }
        let counted = !matches!(over, Over::Plain | Over::Of(_));
        if counted && matches!(sentence.window, Window::Over(..)) {
            let message = "a statistic over days is of one series, not counted over exercises";
            self.add(
                Code::Quantifier,
                &span,
                message,
                "leave the quantifier out, or name one exercise with `of`",
            );
        }
        if counted && matches!(sentence.relation, Relation::Change(..)) {
            let message = "a change is of one series, not counted over exercises";
            self.add(
                Code::Quantifier,
                &span,
                message,
                "leave the quantifier out, or name one exercise with `of`",
            );
        }
        if over == Over::Plain {
            self.needs_direction(measure, &span);
        }
    }

    /// Without a quantifier a per-exercise measure is the worst of its session, so something must be worse.
    fn needs_direction(&mut self, measure: &Measure, span: &Range<usize>) {
        if !self.own && measure.carrier == Carrier::Exercise && measure.worse == Worse::Neither {
            let message = format!(
                "`{}` has no worse direction, so no worst of several exercises",
                measure.name
            );
            self.add(
                Code::NoDirection,
                span,
                message,
                "say `in any exercise`, `in every exercise`, or `of` one",
            );
        }
    }

    fn window(&mut self, measure: &Measure, window: Window) {
        let Some(span) = self.site.parts.window.clone() else {
            return;
        };
        let name = &measure.name;
        let of_sessions = matches!(
            measure.carrier,
            Carrier::Exercise | Carrier::Session | Carrier::MorningAfter
        );
        if worked_out_for_today(measure) {
            let message = format!("`{name}` is worked out for today and has no earlier values");
            return self.add(Code::WindowKind, &span, message, "leave the window out");
        }
        match window {
            Window::Latest | Window::DaysOfLast { .. } => {}
            Window::LastSession
            | Window::EachOfLast(_)
            | Window::AnyOfLast(_)
            | Window::SessionsOfLast { .. } => {
                if !of_sessions {
                    let message = format!("`{name}` is not reported session by session");
                    self.add(
                        Code::WindowKind,
                        &span,
                        message,
                        "use a window of days, or the latest value",
                    );
                }
            }
            Window::Over(stat, _) => self.statistic(measure, stat, &span),
        }
    }

    fn statistic(&mut self, measure: &Measure, stat: Stat, span: &Range<usize>) {
        let name = &measure.name;
        match (stat, &measure.kind) {
            (Stat::Average | Stat::Total, MeasureKind::Choice { .. }) => {
                let message = format!("`{name}` is a choice and has no average or total");
                self.add(
                    Code::Statistic,
                    span,
                    message,
                    "use `at worst` or `at best`, or count sessions",
                );
            }
            (Stat::Worst | Stat::Best, _) if measure.worse == Worse::Neither => {
                let message = format!("`{name}` has no worse direction, so no worst or best");
                self.add(
                    Code::Statistic,
                    span,
                    message,
                    "give it `worse` in measures.toml, or use another window",
                );
            }
            _ => {}
        }
    }

    fn relation(&mut self, measure: &Measure, sentence: &Sentence) {
        let parts = self.site.parts.amounts.clone();
        let mut parts = parts.iter();
        match &sentence.relation {
            Relation::Compare(_, amount) => {
                if let Some(part) = parts.next() {
                    self.amount(measure, *amount, part, sentence);
                }
            }
            Relation::Between(low, high) => {
                for (amount, part) in [low, high].into_iter().zip(parts) {
                    self.amount(measure, *amount, part, sentence);
                }
                if let (Amount::Fixed(low), Amount::Fixed(high)) = (low, high)
                    && low >= high
                {
                    let span = self.site.parts.relation.clone();
                    let message = format!("nothing is between {low} and {high}");
                    self.add(
                        Code::Amount,
                        &span,
                        message,
                        "the smaller number stands first",
                    );
                }
            }
            Relation::Change(_, by, reference) => {
                if let Some(part) = parts.next() {
                    self.change(measure, *by, *reference, part, sentence.window);
                }
            }
            Relation::Is(_) | Relation::IsNot(_) | Relation::NoWorseThan(_) | Relation::Reached => {
            }
        }
    }

    fn amount(
        &mut self,
        measure: &Measure,
        amount: Amount,
        part: &AmountPart,
        sentence: &Sentence,
    ) {
        let MeasureKind::Number { unit, min, max, .. } = &measure.kind else {
            return;
        };
        self.written_unit(measure, unit, part);
        let statistic = matches!(sentence.window, Window::Over(..));
        if statistic && !matches!(amount, Amount::Fixed(_)) {
            let message = "a statistic over days is compared with a number only";
            return self.add(Code::RelativeKind, &part.whole, message, "write the number");
        }
        match amount {
            Amount::Fixed(number) => {
                let total = matches!(sentence.window, Window::Over(Stat::Total, _));
                if number < *min || (number > *max && !total) {
                    let message = format!("`{}` is never {number}", measure.name);
                    self.add(
                        Code::Amount,
                        &part.whole,
                        message,
                        &format!("from {min} to {max} {}", unit.code),
                    );
                }
            }
            Amount::Offset(number, other) => {
                if Milli(number.0.abs()) > Milli(max.0 - min.0) {
                    let message = format!(
                        "no two values of `{}` are {} apart",
                        measure.name,
                        Milli(number.0.abs())
                    );
                    self.add(
                        Code::Amount,
                        &part.whole,
                        message,
                        &format!("at most {}", Milli(max.0 - min.0)),
                    );
                }
                self.other(measure, unit, other, part);
            }
            Amount::PercentOfOtherSide(percent) => {
                if !measure.both_sides {
                    let message = format!("the other side is not reported for `{}`", measure.name);
                    self.add(
                        Code::OtherSide,
                        &part.whole,
                        message,
                        "`both_sides = true` in measures.toml says that it is",
                    );
                }
                self.percent(measure, percent, part);
            }
            Amount::PercentOf(percent, other) => {
                self.percent(measure, percent, part);
                let pack = self.pack;
                if let Some(other) = pack.measures.get(other.at()).filter(|other| !other.ratio) {
                    self.no_percentage(other, &part.whole);
                }
                self.other(measure, unit, other, part);
            }
        }
    }

    fn written_unit(&mut self, measure: &Measure, unit: &Unit, part: &AmountPart) {
        let Some((written, span)) = &part.unit else {
            return;
        };
        if unit::same(written, unit) {
            return;
        }
        let message = format!(
            "`{}` is in `{}` and not in `{}`",
            measure.name, unit.code, written.code
        );
        let note = Note::new(Code::SentenceUnit, self.site.text.part(span), message);
        let note = if written.dimension == unit.dimension {
            note.label("values are never converted")
                .help(format!("write the amount in `{}`", unit.code))
        } else {
            note.label("another dimension")
                .help(format!("write `{}` or leave the unit out", unit.code))
        };
        self.findings.add(note);
    }

    fn percent(&mut self, measure: &Measure, percent: Milli, part: &AmountPart) {
        if percent.0 <= 0 || percent > Milli::whole(PERCENT_MAX) {
            let message = format!("{percent} % cannot be asked for");
            self.add(
                Code::Amount,
                &part.whole,
                message,
                &format!("above 0 and at most {PERCENT_MAX} %"),
            );
        }
        if !measure.ratio {
            self.no_percentage(measure, &part.whole);
        }
    }

    fn no_percentage(&mut self, measure: &Measure, span: &Range<usize>) {
        let message = format!("`{}` has no percentages", measure.name);
        self.add(
            Code::Percent,
            span,
            message,
            "`ratio = true` in measures.toml says that it has a true zero",
        );
    }

    /// The measure that a value is compared with.
    fn other(&mut self, measure: &Measure, unit: &Unit, other: MeasureIx, part: &AmountPart) {
        let pack = self.pack;
        let Some(other) = pack.measures.get(other.at()) else {
            return;
        };
        let span = part.measure.clone().unwrap_or_else(|| part.whole.clone());
        match &other.kind {
            MeasureKind::Choice { .. } => {
                let message = format!("`{}` is a choice and not a number", other.name);
                self.add(
                    Code::RelativeKind,
                    &span,
                    message,
                    "no amount can be above or below it",
                );
            }
            MeasureKind::Number { unit: theirs, .. } if !unit::same(unit, theirs) => {
                let message = format!(
                    "`{}` is in `{}` and `{}` in `{}`",
                    measure.name, unit.code, other.name, theirs.code
                );
                self.add(
                    Code::RelativeKind,
                    &span,
                    message,
                    "only values in the same unit can be compared",
                );
            }
            MeasureKind::Number { .. } if measure.name == other.name => {
                let message = format!("`{}` would be compared with itself", other.name);
                self.add(
                    Code::RelativeKind,
                    &span,
                    message,
                    "name another measure, or write `up by at least …`",
                );
            }
            MeasureKind::Number { .. } => self.needs_direction(other, &span),
        }
    }

    fn change(
        &mut self,
        measure: &Measure,
        by: ChangeBy,
        reference: Reference,
        part: &AmountPart,
        window: Window,
    ) {
        let MeasureKind::Number { unit, min, max, .. } = &measure.kind else {
            return;
        };
        self.written_unit(measure, unit, part);
        if worked_out_for_today(measure) {
            let span = self.site.parts.relation.clone();
            let message = format!(
                "`{}` is worked out for today and has no earlier values",
                measure.name
            );
            self.add(
                Code::RelationKind,
                &span,
                message,
                "only what a fact says changes",
            );
        }
        let total = matches!(window, Window::Over(Stat::Total, _));
        match by {
            ChangeBy::Units(number) if number.0 <= 0 || (number.0 > max.0 - min.0 && !total) => {
                let message = format!("`{}` never moves by {number}", measure.name);
                self.add(
                    Code::Amount,
                    &part.whole,
                    message,
                    &format!("above 0 and at most {}", Milli(max.0 - min.0)),
                );
            }
            ChangeBy::Units(_) => {}
            ChangeBy::Percent(percent) => self.percent(measure, percent, part),
        }
        let Some(span) = self.site.parts.reference.clone() else {
            return;
        };
        match (reference, window) {
            (Reference::DaysBefore(_), Window::Over(_, Span::Days(_))) => {}
            (Reference::DaysBefore(_), _) => {
                let message = "days before are compared with days";
                self.add(
                    Code::ChangeWindow,
                    &span,
                    message,
                    "add a window such as `on average over the last 7 days`",
                );
            }
            (_, Window::Latest) => {}
            _ => {
                let window = self.site.parts.window.clone().unwrap_or(span.clone());
                let message = "a change since a fact is read on the latest value";
                self.add(Code::ChangeWindow, &window, message, "leave the window out");
            }
        }
        if reference == Reference::BestAssessment && measure.worse == Worse::Neither {
            let message = format!("`{}` has no worse direction, so no best", measure.name);
            self.add(
                Code::Statistic,
                &span,
                message,
                "give it `worse` in measures.toml",
            );
        }
    }
}

const fn changes_weekly(measure: &Measure) -> bool {
    matches!(
        measure.origin,
        Origin::Computed(Computed::WeekOnWeek { .. })
    )
}

const fn worked_out_for_today(measure: &Measure) -> bool {
    matches!(measure.origin, Origin::Computed(_) | Origin::Defined(_))
}
