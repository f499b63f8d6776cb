//! What a decision starts from: the facts seen, what is in force, and which directives bind.
//!
//! Leaves to others: what follows (`super::course`, `super::begin`).

use super::complete::{Asked, asked};
use super::stand::{Spot, Stand, rung_for};
use crate::band::Bench;
use crate::decision::Decision;
use crate::evaluate::{View, Watch};
use crate::fact::{DecisionNo, Order, Position};
use crate::history::{Given, History};
use crate::ladder;
use jiff::civil::Date;
use rungwise_pack::model::{CheckedPack, ExerciseIx, LineIx, PhaseIx, RowValue};
use rungwise_pack::quantity::{Key, Variable};
use std::cell::OnceCell;

/// The newest decision that prescribes.
#[derive(Clone, Copy)]
pub(crate) struct Last<'a> {
    /// Its number.
    pub(crate) no: DecisionNo,
    /// Its position.
    pub(crate) position: Position,
    /// What it says.
    pub(crate) decision: &'a Decision,
}

/// What a decision starts from.
pub(crate) struct Case<'a> {
    /// The rules.
    pub(crate) pack: &'a CheckedPack,
    /// The facts.
    pub(crate) history: &'a History,
    /// The date decided for.
    pub(crate) as_of: Date,
    /// The number of the decision to be made.
    pub(crate) no: DecisionNo,
    /// The newest decision of any kind: its position and date.
    pub(crate) newest: Option<(Position, Date)>,
    /// The newest decision that prescribes.
    pub(crate) last: Option<Last<'a>>,
    /// What is in force.
    pub(crate) stand: Stand,
    /// Directives seen and not withdrawn, in order of position.
    pub(crate) given: Vec<Given<'a>>,
    /// Whether a first prescription was made (and accepted, where it had to be).
    pub(crate) begun: bool,
    /// The *place* that acts in this decision.
    pub(crate) placed: Option<Position>,
    /// The exercises that were in place before it, by line.
    pub(crate) before_place: Vec<(LineIx, ExerciseIx)>,
    /// The *reopen* that acts in this decision.
    pub(crate) reopened: Option<Position>,
    /// The history as the last prescribing decision knew it, where that reads otherwise now.
    then: OnceCell<History>,
    /// Whether what it saw reads otherwise now.
    seen_otherwise: OnceCell<bool>,
    /// The history on which the decisions before were issued, where this one is made again on corrected facts.
    issued: Option<&'a History>,
    /// What there is to set a load with.
    bench: OnceCell<Bench<'a>>,
    /// Who wants to know the verdicts of sentences.
    watch: Option<&'a Watch>,
    /// What the limits of the pack and of the phase read.
    asked: OnceCell<Asked>,
}

impl<'a> Case<'a> {
    /// Gathers it. `history` is indexed for `pack` and applies only corrections seen on `as_of`.
    pub(crate) fn new(pack: &'a CheckedPack, history: &'a History, as_of: Date) -> Self {
        let newest = history.last_decision();
        let mut case = Self {
            pack,
            history,
            as_of,
            no: history.next_no(),
            newest: newest.map(|(_, position, decision)| (position, decision.as_of)),
            last: last_prescribing(history),
            stand: history.standing().clone(),
            given: history.directives_until(as_of),
            begun: history.standing().phase.is_some(),
            placed: None,
            before_place: Vec::new(),
            reopened: None,
            then: OnceCell::new(),
            seen_otherwise: OnceCell::new(),
            issued: None,
            bench: OnceCell::new(),
            watch: None,
            asked: OnceCell::new(),
        };
        case.accept_and_place();
        case
    }

    /// The same, with the verdicts of sentences told to a watch.
    pub(crate) fn watched(
        pack: &'a CheckedPack,
        history: &'a History,
        as_of: Date,
        watch: &'a Watch,
    ) -> Self {
        Self {
            watch: Some(watch),
            ..Self::new(pack, history, as_of)
        }
    }

    /// The same for a decision made again on corrected facts: those before it were issued on `issued`.
    pub(crate) fn again(
        pack: &'a CheckedPack,
        history: &'a History,
        as_of: Date,
        issued: &'a History,
    ) -> Self {
        Self {
            issued: Some(issued),
            ..Self::new(pack, history, as_of)
        }
    }

    /// Whether this decision is made again only to compare it with the one issued.
    pub(crate) const fn is_again(&self) -> bool {
        self.issued.is_some()
    }

    /// What there is to set a load with, on the date decided for.
    pub(crate) fn bench(&self) -> &Bench<'a> {
        self.bench
            .get_or_init(|| Bench::on(self.pack, self.history, self.as_of))
    }

    /// Everything seen on the date decided for.
    pub(crate) fn view(&self) -> View<'_> {
        View {
            pack: self.pack,
            history: self.history,
            stand: &self.stand,
            as_of: self.as_of,
            after: None,
            before: None,
            seen_by_last: self.last.map(|last| (last.position, last.decision.as_of)),
            watch: self.watch,
        }
    }

    /// Whether a fact is new: the last prescribing decision did not see it.
    pub(crate) fn is_new(&self, date: Date, known: Position) -> bool {
        self.last
            .is_none_or(|last| known > last.position || date > last.decision.as_of)
    }

    /// Whether a fact is new to the newest decision of any kind.
    pub(crate) fn is_new_to_newest(&self, date: Date, known: Position) -> bool {
        self.newest
            .is_none_or(|(position, seen)| known > position || date > seen)
    }

    /// The directives that bind on the date decided for.
    pub(crate) fn binding(&self) -> impl Iterator<Item = &Given<'a>> + '_ {
        self.given
            .iter()
            .filter(|one| one.directive.until.is_none_or(|until| self.as_of <= until))
    }

    /// Whether a directive expired between the last prescribing decision and now.
    pub(crate) fn directive_expired(&self) -> bool {
        let Some(last) = self.last else {
            return false;
        };
        self.given.iter().any(|one| {
            one.directive
                .until
                .is_some_and(|until| last.decision.as_of <= until && until < self.as_of)
        })
    }

    /// The directive that leaves an exercise out.
    pub(crate) fn left_out(&self, exercise: ExerciseIx) -> Option<Position> {
        self.binding()
            .find(|one| match &one.directive.order {
                Order::LeaveOut { exercise: key } => self.exercise(key) == Some(exercise),
                _ => false,
            })
            .map(|one| one.position)
    }

    /// The exercise under a name of now or of earlier.
    pub(crate) fn exercise(&self, key: &str) -> Option<ExerciseIx> {
        ladder::find_exercise(self.pack, key)
    }

    /// Whether a phase has an exercise: it lists it, or a directive adds it.
    pub(crate) fn phase_has(&self, phase: PhaseIx, exercise: ExerciseIx) -> bool {
        let listed = self
            .pack
            .phases
            .get(phase.at())
            .is_some_and(|phase| phase.exercises.contains(&exercise));
        listed
            || self.binding().any(|one| match &one.directive.order {
                Order::Add { exercise: key } => self.exercise(key) == Some(exercise),
                _ => false,
            })
    }

    /// The exercise that a line had in place before this decision, a *place* that acts in it included.
    pub(crate) fn exercise_before(&self, line: LineIx) -> Option<ExerciseIx> {
        if self.placed.is_none() {
            return self.stand.spot(line).map(|spot| spot.exercise);
        }
        let mut before = self.before_place.iter();
        before
            .find(|(of, _)| *of == line)
            .map(|(_, exercise)| *exercise)
    }

    /// The phase before.
    pub(crate) fn phase_before(&self) -> Option<PhaseIx> {
        self.stand.phase?.0.checked_sub(1).map(PhaseIx)
    }

    /// The phase after.
    pub(crate) fn phase_after(&self) -> Option<PhaseIx> {
        let next = PhaseIx(self.stand.phase?.0.checked_add(1)?);
        self.pack.phases.get(next.at()).map(|_| next)
    }

    /// The history as the last prescribing decision knew it.
    pub(crate) fn then(&self) -> &History {
        self.then.get_or_init(|| {
            let last = self.last.map_or(Position(0), |last| last.position);
            self.issued.unwrap_or(self.history).until(self.pack, last)
        })
    }

    /// What the pack's and the phase's limits ask of a session.
    pub(crate) fn asked_by_limits(&self) -> &Asked {
        self.asked
            .get_or_init(|| asked(self.pack, self.stand.phase))
    }

    /// Whether corrections came since the last prescribing decision.
    fn corrected_since(&self) -> bool {
        let corrections = self.history.index().corrections.iter();
        let mut corrections = corrections.rev();
        self.is_again() || corrections.any(|one| self.is_new(one.date, one.position))
    }

    /// Whether the facts that the last prescribing decision saw read otherwise now: corrected since, or a morning-after
    /// that names no session belongs to a new session of its day.
    pub(crate) fn seen_otherwise(&self) -> bool {
        *self.seen_otherwise.get_or_init(|| {
            let marks = &self.history.index().marks;
            let days = marks.iter().zip(marks.iter().skip(1));
            let shared = days.filter(|(one, other)| one.date == other.date);
            let mut shared = shared.flat_map(|(one, other)| [one, other]);
            self.corrected_since() || shared.any(|one| self.is_new(one.date, one.known))
        })
    }

    /// Accepted proposals and directives that the newest decision did not see, in order of position.
    fn accept_and_place(&mut self) {
        let index = self.history.index();
        let mut events: Vec<(Position, Event<'a>)> = Vec::new();
        for one in index.accepted.iter().rev() {
            if one.date <= self.as_of && self.is_new_to_newest(one.date, one.known) {
                events.push((one.position, Event::Accept(one.decision)));
            }
        }
        for one in &self.given {
            // Before the first prescription a *place* waits for the decision that begins.
            let waits = !self.begun && matches!(one.directive.order, Order::Place { .. });
            if !waits && !self.is_new_to_newest(one.date, one.known) {
                continue;
            }
            match &one.directive.order {
                Order::Place { phase, places } => {
                    events.push((one.position, Event::Place(phase, places)));
                }
                Order::Reopen => events.push((one.position, Event::Reopen)),
                _ => {}
            }
        }
        events.sort_by_key(|(position, _)| *position);
        for (position, event) in events {
            match event {
                Event::Accept(no) => self.accept(no),
                Event::Place(phase, places) => self.put(position, phase, places),
                Event::Reopen => self.reopen(position),
            }
        }
    }

    /// A proposal accepted: its full state, with what latched and which lay-offs were acted on since.
    fn accept(&mut self, no: DecisionNo) {
        let history = self.history;
        if !history.index().acceptable(history.records(), no) {
            return;
        }
        let accepted = history.decision(no);
        let same_stay = accepted.is_some_and(|(_, one)| one.state.stay == self.stand.stay);
        let Some(state) = accepted.and_then(|(_, one)| one.if_accepted.as_ref()) else {
            return;
        };
        if self.begun && !same_stay {
            return;
        }
        let mut stand = Stand::read(self.pack, state);
        stand.latched = std::mem::take(&mut self.stand.latched);
        stand.lay_offs = std::mem::take(&mut self.stand.lay_offs);
        self.begun = stand.phase.is_some();
        self.placed = None;
        self.stand = stand;
    }

    fn put(
        &mut self,
        position: Position,
        phase: &Key,
        places: &[(Key, Vec<(Variable, RowValue)>)],
    ) {
        let pack = self.pack;
        match pack.phase(phase) {
            Some(phase) => self.stand.phase = Some(phase),
            None => self.stand.unmapped.push(phase.clone()),
        }
        let spots = self.stand.spots.iter();
        let before: Vec<_> = spots.map(|spot| (spot.line, spot.exercise)).collect();
        for (line, _) in &before {
            self.stand.take_off(pack, *line);
        }
        if self.placed.is_none() {
            self.before_place = before;
        }
        for (key, values) in places {
            match self.spot(key, values) {
                Some(spot) => {
                    if self.stand.withdrawn(spot.exercise).is_some() {
                        self.stand.end_withdrawal(spot.exercise, self.no);
                    }
                    self.stand.place(spot);
                }
                None => self.stand.unmapped.push(key.clone()),
            }
        }
        self.stand.began = self.stand.began.or(Some(self.as_of));
        self.stand.introduced = Some(self.no);
        self.stand.begin_stay(self.no, self.as_of);
        self.stand.stay_position = Some(position);
        self.placed = Some(position);
    }

    fn spot(&self, key: &Key, values: &[(Variable, RowValue)]) -> Option<Spot> {
        let ix = self.exercise(key)?;
        let exercise = self.pack.exercises.get(ix.at())?;
        Some(Spot {
            line: exercise.line,
            exercise: ix,
            rung: rung_for(exercise, &ladder::fill(exercise, values))?,
            relief: Vec::new(),
            set_anew: self.no,
            setting: None,
        })
    }

    fn reopen(&mut self, position: Position) {
        if self.stand.discharged {
            self.stand.discharged = false;
            self.stand.begin_stay(self.no, self.as_of);
            self.stand.stay_position = Some(position);
            self.reopened = Some(position);
        }
    }
}

enum Event<'a> {
    Accept(DecisionNo),
    Place(&'a Key, &'a [(Key, Vec<(Variable, RowValue)>)]),
    Reopen,
}

fn last_prescribing(history: &History) -> Option<Last<'_>> {
    let mut no = history.next_no().0;
    loop {
        no = no.checked_sub(1)?;
        let (position, decision) = history.decision(DecisionNo(no))?;
        if decision.prescribes {
            return Some(Last {
                no: DecisionNo(no),
                position,
                decision,
            });
        }
    }
}
