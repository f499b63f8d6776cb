//! One sentence: its subject's values in its window, related to its amount.

use super::possible::{Possible, Tally};
use super::read::{Context, Read, Reader};
use super::value::{self, Range, Value};
use super::view::{Scope, days_between};
use crate::history::{SessionFact, value_in};
use rungwise_pack::model::{
    Amount, Carrier, Compare, ExerciseIx, Measure, MeasureIx, Over, Relation, Sentence, SentenceIx,
    Subject, Window,
};
use rungwise_pack::quantity::Milli;

/// A sentence about a measure, taken apart.
#[derive(Clone, Copy)]
pub(crate) struct About<'a> {
    /// The measure's index.
    pub(crate) ix: MeasureIx,
    /// The measure.
    pub(crate) measure: &'a Measure,
    /// Over which exercises.
    pub(crate) over: Over,
    /// The exercise whose own value is read; none: the session's.
    pub(crate) own: Option<ExerciseIx>,
    /// What is asked.
    pub(crate) relation: &'a Relation,
}

impl<'a> Reader<'a> {
    /// What a sentence may be, in a criterion's part that is `negated` or not.
    pub(crate) fn sentence(&self, ix: SentenceIx, negated: bool) -> Possible {
        let possible = self.judged(ix, negated);
        self.view.note(ix, possible);
        possible
    }

    /// The same, which no watch is told.
    pub(super) fn judged(&self, ix: SentenceIx, negated: bool) -> Possible {
        let Some(sentence) = self.view.pack.sentences.get(ix.at()) else {
            return Possible::ANY;
        };
        let about = match &sentence.subject {
            Subject::Reached {
                which,
                variable,
                value,
            } => return self.reached(*which, *variable, value),
            Subject::Measure { .. } => self.about(sentence),
        };
        let Some(about) = about else {
            return Possible::ANY;
        };
        if let Relation::Change(direction, by, reference) = about.relation {
            return self.ends_for(sentence.window, negated, &|end| {
                self.change(&about, sentence.window, *direction, *by, *reference, end)
            });
        }
        match sentence.window {
            Window::Latest if !of_sessions(about.measure) => self.latest_sentence(&about),
            Window::Latest | Window::LastSession => self.of_last(&about, 1, 1),
            Window::EachOfLast(n) => self.of_last(&about, n, n),
            Window::AnyOfLast(n) => self.of_last(&about, 1, n),
            Window::SessionsOfLast { k, n } => self.of_last(&about, k, n),
            Window::DaysOfLast { k, n } => self.ends_for(sentence.window, negated, &|end| {
                self.days_of_last(&about, k, n, end)
            }),
            Window::Over(stat, span) => self.ends_for(sentence.window, negated, &|end| {
                self.statistic_sentence(&about, stat, span, end)
            }),
        }
    }

    /// A sentence taken apart for this rule; none where it is not about a measure of the pack.
    pub(crate) fn about(&self, sentence: &'a Sentence) -> Option<About<'a>> {
        let Subject::Measure { measure: ix, over } = &sentence.subject else {
            return None;
        };
        let own = match over {
            Over::Of(exercise) => Some(*exercise),
            Over::Plain => self.scope.exercise,
            Over::AnyExercise | Over::EveryExercise | Over::AtLeastExercises(_) => None,
        };
        Some(About {
            ix: *ix,
            measure: self.measure(*ix)?,
            over: *over,
            own,
            relation: &sentence.relation,
        })
    }

    /// A day window is judged ending today and ending on the last session's day; the more cautious verdict counts.
    fn ends_for(
        &self,
        window: Window,
        negated: bool,
        judge: &dyn Fn(jiff::civil::Date) -> Possible,
    ) -> Possible {
        let today = judge(self.view.as_of);
        if !matches!(window, Window::DaysOfLast { .. } | Window::Over(..)) {
            return today;
        }
        match self.view.last_session() {
            Some(session) if session.date != self.view.as_of => {
                today.cautious_of(judge(session.date), self.scope.polarity, negated)
            }
            _ => today,
        }
    }

    fn latest_sentence(&self, about: &About<'a>) -> Possible {
        if let Some(found) = self.quick_latest(about) {
            return found;
        }
        let (read, context) = self.latest(about.ix, about.own);
        match read.value() {
            Some(value) => self
                .relate(about, value, context)
                .unwrap_or(Possible::NOT_FULL),
            None => Possible::NOT_FULL,
        }
    }

    /// At least `k` of the last `n` sessions of the series.
    fn of_last(&self, about: &About<'a>, k: u16, n: u16) -> Possible {
        if !of_sessions(about.measure) || n == 0 {
            return Possible::ANY;
        }
        let mut tally = Tally::default();
        let mut met_newest = Vec::new();
        let own = about
            .own
            .filter(|_| about.measure.carrier == Carrier::Exercise);
        for (at, session) in self.sessions_back(own) {
            if let Some(entry) = self.entry(about, Context::Session(at, session)) {
                tally.add(entry);
                if self.tap.traces() {
                    met_newest.push(entry == Possible::MET);
                }
            }
            if tally.entries() >= u32::from(n) {
                break;
            }
        }
        if self.tap.traces() {
            self.tap.sessions_more(sessions_more(&met_newest, k, n));
        }
        tally.at_least(u32::from(k), u32::from(n))
    }

    /// What the sentence may be of one fact; none where that fact is passed over.
    pub(crate) fn entry(&self, about: &About<'a>, context: Context<'a>) -> Option<Possible> {
        if let Context::Session(_, session) = context
            && let Some(found) = self.quick_session(about, session)
        {
            return Some(found);
        }
        let (k, every) = match about.over {
            Over::Plain | Over::Of(_) => {
                return match self.read(about.ix, about.measure, about.own, context) {
                    Read::PassedOver => None,
                    Read::NotFull => Some(Possible::NOT_FULL),
                    Read::Known(value) | Read::Missing(value) => self.relate(about, value, context),
                };
            }
            Over::AnyExercise => (1, false),
            Over::EveryExercise => (1, true),
            Over::AtLeastExercises(k) => (u32::from(k), false),
        };
        let Context::Session(_, session) = context else {
            return Some(Possible::ANY);
        };
        self.quantified(about, session, context, k, every)
    }

    fn quantified(
        &self,
        about: &About<'a>,
        session: &SessionFact,
        context: Context<'a>,
        k: u32,
        every: bool,
    ) -> Option<Possible> {
        let mut tally = Tally::default();
        let mut passed = false;
        self.members(about.ix, about.measure, session, &mut |read| {
            let value = read.value();
            let one = value.map(|value| self.relate(about, value, context));
            match one {
                Some(Some(one)) => tally.add(one),
                Some(None) => passed = true,
                None => {}
            }
        });
        let members = tally.entries();
        if passed || members == 0 {
            return None;
        }
        let k = if every { members } else { k };
        Some(if k > members {
            Possible::NOT
        } else {
            tally.at_least(k, members)
        })
    }

    /// How a value relates to the relation's amounts; none where the amount passes the session over.
    pub(crate) fn relate(
        &self,
        about: &About<'a>,
        value: Value,
        context: Context<'a>,
    ) -> Option<Possible> {
        match (about.relation, value) {
            (Relation::Compare(how, amount), value) => {
                Some(match self.amount(about, *amount, context)? {
                    Ok(amount) => self.compared(*how, value, amount),
                    Err(instead) => instead,
                })
            }
            (Relation::Between(..), Value::Never) => Some(Possible::NOT),
            (Relation::Between(from, to), Value::Number(range)) => {
                let from = self.amount(about, *from, context)?;
                let to = self.amount(about, *to, context)?;
                Some(match (from, to) {
                    (Ok(Value::Number(from)), Ok(Value::Number(to))) => {
                        self.tap.compared(&range, &from);
                        value::between(&range, &from, &to)
                    }
                    (Err(instead), _) | (_, Err(instead)) => instead,
                    _ => Possible::ANY,
                })
            }
            (Relation::Is(choice), Value::Choices(bits)) => Some(among(bits, value::bit(choice.0))),
            (Relation::IsNot(choice), Value::Choices(bits)) => {
                Some(among(bits, !value::bit(choice.0)))
            }
            (Relation::NoWorseThan(choice), Value::Choices(bits)) => {
                let good = value::bits_below(choice.at().saturating_add(1));
                Some(among(bits, good))
            }
            _ => Some(Possible::ANY),
        }
    }

    fn compared(&self, how: Compare, value: Value, amount: Value) -> Possible {
        let at_least = matches!(how, Compare::AtLeast | Compare::Above);
        let may_equal = matches!(how, Compare::AtLeast | Compare::AtMost);
        match (value, amount) {
            (Value::Number(value), Value::Number(amount)) => {
                self.tap.compared(&value, &amount);
                value::compare(how, &value, &amount)
            }
            (Value::Never, Value::Number(_)) => Possible::of(at_least, !at_least),
            (Value::Number(_), Value::Never) => Possible::of(!at_least, at_least),
            (Value::Never, Value::Never) => Possible::of(may_equal, !may_equal),
            _ => Possible::ANY,
        }
    }

    /// An amount's value: none where it passes the session over, an error where it decides by itself.
    fn amount(
        &self,
        about: &About<'a>,
        amount: Amount,
        context: Context<'a>,
    ) -> Option<Result<Value, Possible>> {
        let of = match amount {
            Amount::Fixed(Milli(milli)) => {
                return Some(Ok(Value::Number(Range::one(milli))));
            }
            Amount::PercentOfOtherSide(percent) => {
                return Some(self.other_side(about, percent, context));
            }
            Amount::Offset(_, of) | Amount::PercentOf(_, of) => of,
        };
        let read = match self.measure(of) {
            None => return Some(Err(Possible::ANY)),
            Some(measure) if of_sessions(measure) && matches!(context, Context::Session(..)) => {
                match self.read_beside(of, measure, about.own, context) {
                    Read::PassedOver => match context {
                        Context::Session(at, session)
                            if measure.carrier == Carrier::MorningAfter
                                && !self.morning_came(at, session) =>
                        {
                            return None;
                        }
                        _ => Read::NotFull,
                    },
                    read => read,
                }
            }
            Some(_) => {
                let scope = Scope {
                    fresh: true,
                    ..self.scope
                };
                let fresh = Reader { scope, ..*self };
                fresh.latest(of, about.own).0
            }
        };
        let Some(base) = read.value() else {
            return Some(Err(Possible::NOT_FULL));
        };
        let Value::Number(base) = base else {
            return Some(if base == Value::Never {
                Ok(base)
            } else {
                Err(Possible::ANY)
            });
        };
        let moved = match amount {
            Amount::Offset(Milli(by), _) => base.plus(by),
            Amount::PercentOf(Milli(percent), _) => base.percent(percent),
            Amount::Fixed(_) | Amount::PercentOfOtherSide(_) => None,
        };
        Some(moved.map(Value::Number).ok_or(Possible::ANY))
    }

    /// Reads an amount of the subject's own session. What a sentence reads of a session is its subject: the amount beside it
    /// does not make the session's fact one that was read.
    fn read_beside(
        &self,
        ix: MeasureIx,
        measure: &Measure,
        own: Option<ExerciseIx>,
        context: Context<'a>,
    ) -> Read {
        let before = (self.tap.read.get(), self.tap.new.get());
        let read = self.read(ix, measure, own, context);
        self.tap.read.set(before.0);
        self.tap.new.set(before.1);
        read
    }

    /// A percentage of the same assessment's other side; not reported sound, it may be anything.
    fn other_side(
        &self,
        about: &About<'a>,
        percent: Milli,
        context: Context<'a>,
    ) -> Result<Value, Possible> {
        let found = match context {
            Context::Sheet(sheet) => value_in(&sheet.other, about.ix),
            _ => None,
        };
        let other = found.map_or_else(|| value::whole(about.measure), value::known);
        match other {
            Value::Number(other) => other
                .percent(percent.0)
                .map(Value::Number)
                .ok_or(Possible::ANY),
            _ => Err(Possible::ANY),
        }
    }

    /// On at least `k` of the `n` days that end with `end`.
    fn days_of_last(&self, about: &About<'a>, k: u16, n: u16, end: jiff::civil::Date) -> Possible {
        let mut days = Tally::default();
        let mut day: Option<(jiff::civil::Date, Tally)> = None;
        let close = |day: Option<(jiff::civil::Date, Tally)>, days: &mut Tally| {
            if let Some((_, entries)) = day {
                days.add(entries.at_least(1, entries.entries()));
            }
        };
        self.walk(about.measure, about.own, &mut |context| {
            let Some(date) = context.date() else {
                return true;
            };
            let age = days_between(date, end);
            if age < 0 {
                return true;
            }
            if age >= i64::from(n) {
                return false;
            }
            let Some(entry) = self.entry(about, context) else {
                return true;
            };
            match &mut day {
                Some((of, entries)) if *of == date => entries.add(entry),
                _ => {
                    let mut entries = Tally::default();
                    entries.add(entry);
                    close(day.replace((date, entries)), &mut days);
                }
            }
            true
        });
        close(day, &mut days);
        let n = u32::from(n);
        days.add_times(Possible::NOT, n.saturating_sub(days.entries()));
        days.at_least(u32::from(k), n)
    }
}

/// Whether a measure is read session by session.
pub(crate) const fn of_sessions(measure: &Measure) -> bool {
    matches!(
        measure.carrier,
        Carrier::Exercise | Carrier::Session | Carrier::MorningAfter
    )
}

fn among(bits: u64, good: u64) -> Possible {
    Possible::of(bits & good != 0, bits & !good != 0)
}

/// The least number of further sessions, all of them meeting the relation, after which `k` of the last `n` do. `met`
/// says of the newest sessions, newest first, whether they certainly do.
fn sessions_more(met: &[bool], k: u16, n: u16) -> u16 {
    (0..=n)
        .find(|more| {
            let kept = usize::from(n.saturating_sub(*more));
            let still = met.iter().take(kept).filter(|met| **met).count();
            still.saturating_add(usize::from(*more)) >= usize::from(k)
        })
        .unwrap_or(n)
}
