//! What is in force, by the pack's numbers: a [`State`] read under a pack, and written back.
//!
//! Leaves to others: which decision's state that is (`super::in_force`), and how it changes (`super::moves`).

use crate::band::Setting;
use crate::decision::{LastPlace, Place, State, Withdrawal};
use crate::fact::{DecisionNo, Position};
use crate::ladder::{self, Values};
use jiff::civil::Date;
use rungwise_pack::model::{Exercise, ExerciseIx, LineIx, Pack, PhaseIx};
use rungwise_pack::quantity::{Key, Variable};

/// A state by the pack's numbers.
#[derive(Clone, Default, Debug)]
pub(crate) struct Stand {
    /// The phase.
    pub(crate) phase: Option<PhaseIx>,
    /// The decision that began this stay, and its date.
    pub(crate) stay: Option<(DecisionNo, Date)>,
    /// Where the directive that began this stay stands, while no decision has acted on it.
    pub(crate) stay_position: Option<Position>,
    /// The date of the first prescription.
    pub(crate) began: Option<Date>,
    /// The last decision that introduced, returned or entered.
    pub(crate) introduced: Option<DecisionNo>,
    /// Places, in the pack's order of lines.
    pub(crate) spots: Vec<Spot>,
    /// Where exercises not in force stood last.
    pub(crate) last: Vec<LastSpot>,
    /// Withdrawals.
    pub(crate) withdrawals: Vec<(ExerciseIx, DecisionNo)>,
    /// From which decision on an exercise's over-limit sessions count.
    pub(crate) run_from: Vec<(ExerciseIx, DecisionNo)>,
    /// Latched refer rules, by key: one that this pack no longer has stays latched.
    pub(crate) latched: Vec<Key>,
    /// Lay-offs acted on.
    pub(crate) lay_offs: Vec<(Date, u16)>,
    /// Lines that went up last.
    pub(crate) climbed_last: Vec<LineIx>,
    /// Whether care has ended.
    pub(crate) discharged: bool,
    /// Exercises and phases that this pack has no place for.
    pub(crate) unmapped: Vec<Key>,
}

/// A line's place.
#[derive(Clone, PartialEq, Eq, Debug)]
pub(crate) struct Spot {
    /// The line.
    pub(crate) line: LineIx,
    /// The exercise.
    pub(crate) exercise: ExerciseIx,
    /// Index into the exercise's rungs.
    pub(crate) rung: u16,
    /// Steps given, oldest first.
    pub(crate) relief: Vec<Variable>,
    /// The decision that set it anew.
    pub(crate) set_anew: DecisionNo,
    /// What it asks of a band.
    pub(crate) setting: Option<Setting>,
}

/// Where an exercise stood last.
#[derive(Clone, PartialEq, Eq, Debug)]
pub(crate) struct LastSpot {
    /// The exercise.
    pub(crate) exercise: ExerciseIx,
    /// Its rung's values.
    pub(crate) rung: Values,
    /// Its relief.
    pub(crate) relief: Vec<Variable>,
    /// What it asked of a band.
    pub(crate) setting: Option<Setting>,
}

impl Stand {
    /// Reads a state under `pack`. Exercises that the pack has no place for are left out and named in `unmapped`; a
    /// phase that it no longer has becomes the first.
    pub(crate) fn read(pack: &Pack, state: &State) -> Self {
        let mut stand = Self {
            stay: state.stay,
            began: state.began,
            introduced: state.introduced,
            latched: state.latched.clone(),
            lay_offs: state.lay_offs.clone(),
            discharged: state.discharged,
            ..Self::default()
        };
        if let Some(key) = &state.phase {
            stand.phase = pack.phase(key);
            if stand.phase.is_none() {
                stand.phase = Some(PhaseIx(0));
                stand.unmapped.push(key.clone());
            }
        }
        for place in &state.places {
            match spot(pack, place) {
                Some(spot) => stand.place(spot),
                None => stand.unmapped.push(place.exercise.clone()),
            }
        }
        let exercise = |key: &Key| ladder::find_exercise(pack, key);
        stand.last = state
            .last_places
            .iter()
            .filter_map(|last| {
                Some(LastSpot {
                    exercise: exercise(&last.exercise)?,
                    rung: last.rung.clone(),
                    relief: last.relief.clone(),
                    setting: last.setting.clone(),
                })
            })
            .collect();
        stand.withdrawals = state
            .withdrawals
            .iter()
            .filter_map(|one| Some((exercise(&one.exercise)?, one.by)))
            .collect();
        stand.run_from = state
            .run_from
            .iter()
            .filter_map(|(key, from)| Some((exercise(key)?, *from)))
            .collect();
        stand.climbed_last = state
            .climbed_last
            .iter()
            .filter_map(|key| pack.line(key))
            .collect();
        stand
    }

    /// Writes it as a state.
    pub(crate) fn write(&self, pack: &Pack) -> State {
        let key = |ix: ExerciseIx| pack.exercises.get(ix.at()).map(|one| one.key.clone());
        let line = |ix: LineIx| pack.lines.get(ix.at()).map(|one| one.key.clone());
        let mut state = State {
            phase: self
                .phase
                .and_then(|phase| pack.phases.get(phase.at()))
                .map(|phase| phase.key.clone()),
            stay: self.stay,
            began: self.began,
            introduced: self.introduced,
            places: Vec::with_capacity(self.spots.len()),
            last_places: Vec::with_capacity(self.last.len()),
            withdrawals: Vec::with_capacity(self.withdrawals.len()),
            run_from: Vec::with_capacity(self.run_from.len()),
            latched: self.latched.clone(),
            lay_offs: self.lay_offs.clone(),
            climbed_last: self
                .climbed_last
                .iter()
                .filter_map(|ix| line(*ix))
                .collect(),
            discharged: self.discharged,
        };
        for spot in &self.spots {
            let Some(exercise) = pack.exercises.get(spot.exercise.at()) else {
                continue;
            };
            let Some(line) = line(spot.line) else {
                continue;
            };
            state.places.push(Place {
                line,
                exercise: exercise.key.clone(),
                rung: ladder::rung_values(exercise, spot.rung),
                relief: spot.relief.clone(),
                set_anew: spot.set_anew,
                setting: spot.setting.clone(),
            });
        }
        for last in &self.last {
            if let Some(exercise) = key(last.exercise) {
                state.last_places.push(LastPlace {
                    exercise,
                    rung: last.rung.clone(),
                    relief: last.relief.clone(),
                    setting: last.setting.clone(),
                });
            }
        }
        for (ix, by) in &self.withdrawals {
            if let Some(exercise) = key(*ix) {
                state.withdrawals.push(Withdrawal { exercise, by: *by });
            }
        }
        for (ix, from) in &self.run_from {
            if let Some(exercise) = key(*ix) {
                state.run_from.push((exercise, *from));
            }
        }
        state
            .last_places
            .sort_by(|a, b| a.exercise.cmp(&b.exercise));
        state
            .withdrawals
            .sort_by(|a, b| a.exercise.cmp(&b.exercise));
        state.run_from.sort();
        state.latched.sort();
        state
    }

    /// The place on a line.
    pub(crate) fn spot(&self, line: LineIx) -> Option<&Spot> {
        self.spots.iter().find(|spot| spot.line == line)
    }

    /// The place of an exercise.
    pub(crate) fn spot_of(&self, exercise: ExerciseIx) -> Option<&Spot> {
        self.spots.iter().find(|spot| spot.exercise == exercise)
    }

    /// Puts a place onto its line, in order; what stood there becomes its exercise's last place.
    pub(crate) fn place(&mut self, spot: Spot) {
        self.last.retain(|last| last.exercise != spot.exercise);
        match self.spots.binary_search_by_key(&spot.line, |one| one.line) {
            Ok(at) => {
                if let Some(there) = self.spots.get_mut(at) {
                    *there = spot;
                }
            }
            Err(at) => self.spots.insert(at, spot),
        }
    }

    /// Takes a line's place away; its exercise keeps it as its last.
    pub(crate) fn take_off(&mut self, pack: &Pack, line: LineIx) {
        let Ok(at) = self.spots.binary_search_by_key(&line, |one| one.line) else {
            return;
        };
        let spot = self.spots.remove(at);
        self.remember(pack, &spot);
    }

    /// Keeps a place as its exercise's last one.
    pub(crate) fn remember(&mut self, pack: &Pack, spot: &Spot) {
        let Some(exercise) = pack.exercises.get(spot.exercise.at()) else {
            return;
        };
        self.last.retain(|last| last.exercise != spot.exercise);
        self.last.push(LastSpot {
            exercise: spot.exercise,
            rung: ladder::rung_values(exercise, spot.rung),
            relief: spot.relief.clone(),
            setting: spot.setting.clone(),
        });
    }

    /// Where an exercise stood last.
    pub(crate) fn last_of(&self, exercise: ExerciseIx) -> Option<&LastSpot> {
        self.last.iter().find(|last| last.exercise == exercise)
    }

    /// The decision that withdrew an exercise.
    pub(crate) fn withdrawn(&self, exercise: ExerciseIx) -> Option<DecisionNo> {
        let found = self.withdrawals.iter().find(|(one, _)| *one == exercise);
        found.map(|(_, by)| *by)
    }

    /// Whether a withdrawal of it or of a gentler exercise of its line blocks an exercise.
    pub(crate) fn blocked(&self, pack: &Pack, exercise: ExerciseIx) -> bool {
        let line = line_of(pack, exercise);
        self.withdrawals
            .iter()
            .any(|(one, _)| *one <= exercise && line_of(pack, *one) == line)
    }

    /// From which decision on an exercise's over-limit sessions count.
    pub(crate) fn run_from(&self, exercise: ExerciseIx) -> Option<DecisionNo> {
        let found = self.run_from.iter().find(|(one, _)| *one == exercise);
        found.map(|(_, from)| *from)
    }

    /// Ends an exercise's withdrawal; its run of over-limit sessions starts again from `no`.
    pub(crate) fn end_withdrawal(&mut self, exercise: ExerciseIx, no: DecisionNo) {
        self.withdrawals.retain(|(one, _)| *one != exercise);
        self.run_from.retain(|(one, _)| *one != exercise);
        self.run_from.push((exercise, no));
    }

    /// Begins a stay: every place is set anew, and what climbed before no longer matters.
    pub(crate) fn begin_stay(&mut self, no: DecisionNo, date: Date) {
        self.stay = Some((no, date));
        self.climbed_last.clear();
        for spot in &mut self.spots {
            spot.set_anew = no;
        }
    }
}

/// The line that an exercise belongs to.
pub(crate) fn line_of(pack: &Pack, exercise: ExerciseIx) -> Option<LineIx> {
    pack.exercises.get(exercise.at()).map(|one| one.line)
}

/// The place that `values` describe on an exercise's ladder: exactly, or the highest rung not above it.
pub(crate) fn rung_for(exercise: &Exercise, values: &Values) -> Option<u16> {
    ladder::rung_of(exercise, values).or_else(|| ladder::map_rung(exercise, values))
}

fn spot(pack: &Pack, place: &Place) -> Option<Spot> {
    let ix = ladder::find_exercise(pack, &place.exercise)?;
    let exercise = pack.exercises.get(ix.at())?;
    let rung = rung_for(exercise, &place.rung)?;
    Some(Spot {
        line: exercise.line,
        exercise: ix,
        rung,
        relief: ladder::map_relief(exercise, rung, &place.relief),
        set_anew: place.set_anew,
        setting: place.setting.clone(),
    })
}
