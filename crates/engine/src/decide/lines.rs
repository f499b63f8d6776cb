//! The lines' moves: each line's own move, lowered by every cap, and what stands then.
//!
//! Leaves to others: the outcome and the caps that come with it (`super::course`).

use super::bounds::Bounds;
use super::case::Case;
use super::climb::{Climb, Climbing, climbing, slots};
use super::introduce::{
    Arrival, BringBack, Occasion, arrivals, back_from, forward_from, lines_of, nothing_left,
    returns_on_going_back,
};
use super::limit::{Run, person_over, run_of};
use super::report::needs_sign_off;
use super::stand::{Spot, Stand};
use crate::decision::{Cause, LineMove, Move};
use crate::ladder;
use jiff::civil::Date;
use rungwise_pack::model::{ExerciseIx, LineIx, Outcome, PhaseIx};
use rungwise_pack::quantity::Key;

/// What the rules ask of every line.
pub(crate) struct Ruling {
    /// The outcome.
    pub(crate) outcome: Outcome,
    /// A referral stops exercise.
    pub(crate) stops: bool,
    /// A regress rule acts.
    pub(crate) regresses: bool,
    /// An ease rule acts, with its causes.
    pub(crate) eases: Vec<Cause>,
    /// Nothing goes up, for these causes (empty: no such cap).
    pub(crate) keeps: Vec<Cause>,
    /// Steps that a lay-off eases, where one acts.
    pub(crate) lay_off: Option<(u32, Cause)>,
    /// Whether anything is new.
    pub(crate) news: bool,
    /// The only lines that may go up; none: every line.
    pub(crate) only: Option<Vec<LineIx>>,
}

impl Ruling {
    /// Whether lines may go up as far as the outcome and the caps go.
    pub(crate) fn rises(&self) -> bool {
        self.outcome.rank() >= Outcome::Continue.rank()
            && self.outcome != Outcome::Discharge
            && self.keeps.is_empty()
            && self.eases.is_empty()
            && self.lay_off.is_none()
    }

    /// Whether a line is among those that may go up.
    fn raises(&self, line: LineIx) -> bool {
        self.only.as_ref().is_none_or(|only| only.contains(&line))
    }
}

/// What every line's own record says, before any cap.
#[derive(Default)]
pub(crate) struct Own {
    /// Sessions newly over a limit, by exercise in place.
    runs: Vec<(ExerciseIx, Run)>,
    /// A session in which the person was newly over a limit.
    person: Option<(Option<Key>, (Date, u8))>,
    /// Climb rules judged.
    pub(crate) climbs: Vec<(ExerciseIx, Climbing)>,
}

/// Judges every line for itself.
pub(crate) fn own(case: &Case<'_>, new: &[usize], news: bool) -> Own {
    let bounds = Bounds::of(case);
    let slots = slots(case, new);
    let mut found = Own {
        runs: Vec::with_capacity(case.stand.spots.len()),
        person: person_over(case, new),
        climbs: Vec::with_capacity(case.stand.spots.len()),
    };
    for spot in &case.stand.spots {
        let slot = slots
            .as_ref()
            .is_none_or(|slots| slots.contains(&spot.line));
        found
            .runs
            .push((spot.exercise, run_of(case, spot.exercise, new)));
        if let Some(climbing) = climbing(case, &bounds, spot, slot, news) {
            found.climbs.push((spot.exercise, climbing));
        }
    }
    found
}

/// The moves and what stands after them.
pub(crate) struct Moved {
    /// Moves, in the pack's order of lines.
    pub(crate) moves: Vec<LineMove>,
    /// What stands with every move made.
    pub(crate) full: Stand,
    /// What stands with only the cautious ones, where the outcome waits for a sign-off.
    pub(crate) cautious: Option<Stand>,
}

/// Moves every line.
pub(crate) fn move_lines(case: &Case<'_>, own: &Own, ruling: &Ruling, back: &[BringBack]) -> Moved {
    let mut mover = Mover {
        case,
        own,
        ruling,
        next: match ruling.outcome {
            Outcome::Progress => case.phase_after(),
            _ => None,
        },
        lines_ahead: Vec::new(),
        before: if ruling.regresses {
            case.phase_before()
        } else {
            None
        },
        moves: Vec::new(),
        went_up: Vec::new(),
        full: case.stand.clone(),
        cautious: needs_sign_off(case, ruling.outcome).then(|| case.stand.clone()),
    };
    if let Some(next) = mover.next {
        mover.lines_ahead = lines_of(case, next);
    }
    for spot in &case.stand.spots {
        mover.line(spot);
    }
    mover.arrive(back);
    mover.settle();
    mover.moves.sort_by_key(|(line, _)| *line);
    Moved {
        moves: mover.moves.into_iter().map(|(_, one)| one).collect(),
        full: mover.full,
        cautious: mover.cautious,
    }
}

struct Mover<'c, 'a> {
    case: &'c Case<'a>,
    own: &'c Own,
    ruling: &'c Ruling,
    /// The phase entered.
    next: Option<PhaseIx>,
    /// The lines that it prescribes.
    lines_ahead: Vec<LineIx>,
    /// The phase gone back to.
    before: Option<PhaseIx>,
    moves: Vec<(LineIx, LineMove)>,
    went_up: Vec<LineIx>,
    full: Stand,
    cautious: Option<Stand>,
}

impl Mover<'_, '_> {
    fn line(&mut self, spot: &Spot) {
        let runs = self.own.runs.iter();
        let run = runs
            .clone()
            .find(|(exercise, _)| *exercise == spot.exercise)
            .map_or(&Run::None, |(_, run)| run);
        let mut withdraws = None;
        let mut eases = Vec::new();
        match run {
            Run::None => {}
            Run::Once(limit, session) => {
                let over = Cause::OverLimit {
                    limit: limit.clone(),
                    session: *session,
                };
                if nothing_left(self.case, spot) {
                    withdraws = Some(vec![over, Cause::NothingLeft]);
                } else {
                    eases.push(over);
                }
            }
            Run::Twice(limit, session) => {
                withdraws = Some(vec![Cause::OverLimitTwice {
                    limit: limit.clone(),
                    session: *session,
                }]);
            }
        }
        if let Some(because) = withdraws {
            self.withdraw(spot, because, true);
            return;
        }
        if self.ruling.stops {
            self.withdraw(spot, self.ruling.keeps.clone(), false);
            return;
        }
        if let Some(before) = self.before
            && !self.case.phase_has(before, spot.exercise)
        {
            self.go_back(spot, before);
            return;
        }
        self.eased_by_others(spot, &mut eases);
        if eases.is_empty() {
            self.keep_or_rise(spot);
        } else {
            self.ease(spot, eases);
        }
    }

    /// Adds what eases the line beside its own record: an ease rule, a limit on the person, a lay-off.
    fn eased_by_others(&self, spot: &Spot, eases: &mut Vec<Cause>) {
        if let Some((limit, session)) = &self.own.person {
            let stand = &self.case.stand;
            let mut climbed = stand.climbed_last.iter();
            let some_stand = climbed.any(|line| stand.spot(*line).is_some());
            if !some_stand || stand.climbed_last.contains(&spot.line) {
                eases.push(Cause::OverLimit {
                    limit: limit.clone(),
                    session: *session,
                });
            }
        }
        eases.extend(self.ruling.eases.iter().cloned());
        if let Some((steps, cause)) = &self.ruling.lay_off
            && *steps > 0
        {
            eases.push(cause.clone());
        }
    }

    fn withdraw(&mut self, spot: &Spot, because: Vec<Cause>, withdrawal: bool) {
        for stand in [Some(&mut self.full), self.cautious.as_mut()]
            .into_iter()
            .flatten()
        {
            stand.take_off(self.case.pack, spot.line);
            if withdrawal {
                stand.withdrawals.retain(|(one, _)| *one != spot.exercise);
                stand.withdrawals.push((spot.exercise, self.case.no));
            }
        }
        self.note(spot, Move::Withdraw, None, because);
    }

    fn go_back(&mut self, spot: &Spot, before: PhaseIx) {
        let to = back_from(self.case, &self.full, spot, before);
        for stand in [Some(&mut self.full), self.cautious.as_mut()]
            .into_iter()
            .flatten()
        {
            stand.take_off(self.case.pack, spot.line);
            if let Some(to) = &to {
                stand.place(to.clone());
            }
        }
        let mut because = self.ruling.keeps.clone();
        if to.is_none() {
            because.push(Cause::LineEnds);
        }
        self.note(spot, Move::Back, to.map(|to| to.exercise), because);
    }

    /// One step of relief, or as many as a lay-off asks for where that is more. With nothing left the line is kept, and
    /// set anew all the same.
    fn ease(&mut self, spot: &Spot, mut because: Vec<Cause>) {
        let mut eased = spot.clone();
        eased.set_anew = self.case.no;
        let lay_off = self.ruling.lay_off.as_ref().map_or(0, |(steps, _)| *steps);
        let mut given = false;
        if let Some(exercise) = self.case.pack.exercises.get(spot.exercise.at()) {
            for _ in 0..lay_off.max(1) {
                let Some(step) = ladder::give(exercise, eased.rung, &eased.relief) else {
                    break;
                };
                eased.relief.push(step);
                given = true;
            }
        }
        let mv = if given { Move::Ease } else { Move::Keep };
        if !given {
            because.push(Cause::NothingLeft);
        }
        if let Some(cautious) = &mut self.cautious {
            cautious.place(eased.clone());
        }
        self.full.place(eased);
        self.stay_or_end(spot, mv, because);
    }

    /// A line that stays on its exercise ends where the phase entered lacks it.
    fn stay_or_end(&mut self, spot: &Spot, mv: Move, mut because: Vec<Cause>) {
        let ends = self.next.is_some_and(|next| !self.takes(next, spot));
        if ends {
            self.full.take_off(self.case.pack, spot.line);
            because.push(Cause::LineEnds);
        }
        let to = (!ends).then_some(spot.exercise);
        self.note(spot, mv, to, because);
    }

    fn keep_or_rise(&mut self, spot: &Spot) {
        if !self.ruling.rises() {
            let because = self.ruling.keeps.clone();
            self.stay_or_end(spot, Move::Keep, because);
            return;
        }
        if !self.ruling.raises(spot.line) {
            self.stay_or_end(spot, Move::Keep, vec![Cause::NothingNew]);
            return;
        }
        if let Some(next) = self.next
            && !self.takes(next, spot)
        {
            self.go_forward(spot, next);
            return;
        }
        let climbs = self.own.climbs.iter();
        let climbing = climbs
            .clone()
            .find(|(exercise, _)| *exercise == spot.exercise);
        match climbing.map(|(_, climbing)| &climbing.climb) {
            Some(Climb::To(to)) => {
                let lacks = self
                    .next
                    .is_some_and(|next| !self.case.phase_has(next, to.exercise));
                if lacks {
                    self.stay_or_end(spot, Move::Keep, vec![Cause::AtTop]);
                    return;
                }
                let rule = climbing.and_then(|(_, one)| self.case.pack.rules.get(one.rule.at()));
                let because = rule.map(|rule| Cause::Met(rule.key.clone()));
                self.rise(spot, to, Move::Climb, because.into_iter().collect());
            }
            Some(Climb::No(cause)) => self.stay_or_end(spot, Move::Keep, vec![cause.clone()]),
            None => self.stay_or_end(spot, Move::Keep, Vec::new()),
        }
    }

    /// Whether the phase entered goes on with the exercise in a place.
    fn takes(&self, next: PhaseIx, spot: &Spot) -> bool {
        self.lines_ahead.contains(&spot.line) && self.case.phase_has(next, spot.exercise)
    }

    fn go_forward(&mut self, spot: &Spot, next: PhaseIx) {
        let to = forward_from(self.case, &self.full, spot, next);
        match to.filter(|to| self.lines_ahead.contains(&to.line)) {
            Some(to) => self.rise(spot, &to, Move::Forward, Vec::new()),
            None => {
                self.full.take_off(self.case.pack, spot.line);
                self.note(spot, Move::Forward, None, vec![Cause::LineEnds]);
            }
        }
    }

    fn rise(&mut self, spot: &Spot, to: &Spot, mv: Move, because: Vec<Cause>) {
        if to.exercise != spot.exercise {
            self.full.take_off(self.case.pack, spot.line);
        }
        self.full.place(to.clone());
        self.went_up.push(spot.line);
        self.note(spot, mv, Some(to.exercise), because);
    }

    fn note(&mut self, spot: &Spot, mut mv: Move, to: Option<ExerciseIx>, mut because: Vec<Cause>) {
        let mut from = self.case.exercise_before(spot.line);
        if mv < Move::Keep {
            from = Some(spot.exercise);
        }
        if let Some(position) = self.case.placed {
            because.insert(0, Cause::Directive(position));
            if from.is_none() && mv == Move::Keep {
                mv = Move::Introduce;
            }
        }
        self.push(spot.line, mv, from, to, because);
    }

    fn push(
        &mut self,
        line: LineIx,
        mv: Move,
        from: Option<ExerciseIx>,
        to: Option<ExerciseIx>,
        because: Vec<Cause>,
    ) {
        let key = |ix: ExerciseIx| {
            let exercise = self.case.pack.exercises.get(ix.at());
            exercise.map(|exercise| exercise.key.clone())
        };
        let Some(of) = self.case.pack.lines.get(line.at()) else {
            return;
        };
        let one = LineMove {
            line: of.key.clone(),
            mv,
            from: from.and_then(key),
            to: to.and_then(key),
            because,
        };
        self.moves.push((line, one));
    }

    /// Lines that get a place.
    fn arrive(&mut self, back: &[BringBack]) {
        if let (Some(before), Some(now), false) =
            (self.before, self.case.stand.phase, self.ruling.stops)
        {
            for arrival in returns_on_going_back(self.case, &self.full, now, before) {
                if let Some(cautious) = &mut self.cautious {
                    cautious.place(arrival.spot.clone());
                }
                self.arrived(arrival);
            }
            return;
        }
        if !self.ruling.rises() {
            return;
        }
        for one in back {
            let line = self.case.pack.exercises.get(one.exercise.at());
            let stands = line.is_some_and(|one| self.full.spot(one.line).is_some());
            if one.ends && stands {
                self.full.end_withdrawal(one.exercise, self.case.no);
            }
        }
        let occasion = if self.next.is_some() || self.case.placed.is_some() {
            Occasion::Entering
        } else {
            Occasion::GoingOn
        };
        let phase = self.next.or(self.case.stand.phase);
        let Some(phase) = phase else { return };
        let news = self.ruling.news;
        let mut found = arrivals(self.case, &self.full, phase, occasion, back, news);
        found.retain(|one| self.ruling.raises(one.spot.line));
        for arrival in found {
            self.arrived(arrival);
        }
    }

    fn arrived(&mut self, arrival: Arrival) {
        let Arrival {
            spot,
            mv,
            because,
            brings_back,
        } = arrival;
        if brings_back {
            self.full.end_withdrawal(spot.exercise, self.case.no);
        }
        self.full.introduced = Some(self.case.no);
        if self.before.is_none() {
            self.went_up.push(spot.line);
        }
        let from = self.case.exercise_before(spot.line);
        self.push(spot.line, mv, from, Some(spot.exercise), because);
        self.full.place(spot);
    }

    /// The phase, the stay, and what went up last.
    fn settle(&mut self) {
        let (no, as_of) = (self.case.no, self.case.as_of);
        let restarts = self.ruling.regresses || self.ruling.lay_off.is_some();
        if restarts {
            for stand in [Some(&mut self.full), self.cautious.as_mut()]
                .into_iter()
                .flatten()
            {
                if let Some(before) = self.before {
                    stand.phase = Some(before);
                    stand.introduced = Some(no);
                }
                stand.begin_stay(no, as_of);
            }
        }
        if let Some(next) = self.next {
            self.full.phase = Some(next);
            self.full.introduced = Some(no);
            self.full.begin_stay(no, as_of);
        }
        if !self.went_up.is_empty() {
            self.went_up.sort_unstable();
            self.full.climbed_last = std::mem::take(&mut self.went_up);
        }
        self.full.stay_position = None;
        if let Some(cautious) = &mut self.cautious {
            cautious.stay_position = None;
        }
    }
}
