//! Lines, exercises and their ladders.

use super::{BandWork, Criterion, Limit, LineIx, MeasureIx, RuleIx};
use crate::quantity::{Key, Milli, Variable};

/// The exercises of one movement, gentlest first.
#[derive(Clone, Debug)]
pub struct Line {
    /// Stable name.
    pub key: Key,
    /// Its exercises: consecutive indexes, gentlest first.
    pub exercises: Vec<super::ExerciseIx>,
}

/// One exercise with its ladder.
#[derive(Clone, Debug)]
pub struct Exercise {
    /// Stable name.
    pub key: Key,
    /// Names it had in earlier versions of the pack.
    pub was: Vec<Key>,
    /// The line it belongs to.
    pub line: LineIx,
    /// Text key of its name.
    pub name: Key,
    /// Text key of the plain sentence that says how to do it.
    pub how: Key,
    /// Text keys of its cues.
    pub cues: Vec<Key>,
    /// Equipment it needs, by the pack's own names.
    pub equipment: Vec<Key>,
    /// How it moves a band, where its loads are torques; its ladder then has a load row that is a sequence.
    pub band: Option<BandWork>,
    /// The ladder's rows, fastest first.
    pub rows: Vec<Row>,
    /// The unrolled ladder, gentlest first. Never empty.
    pub rungs: Vec<Rung>,
    /// The rung it is introduced on (an index into `rungs`).
    pub start: u16,
    /// How many rungs under its last one it comes back on; none: on its start rung.
    pub return_at: Option<u16>,
    /// What gives way, in order.
    pub gives_way: GivesWay,
    /// The measure that reports the comfortable range; it caps the range row.
    pub comfortable: Option<MeasureIx>,
    /// Its own limits.
    pub limits: Vec<Limit>,
    /// When it climbs.
    pub climb: RuleIx,
    /// When a withdrawal of it ends; none: only by a directive.
    pub bring_back: Option<RuleIx>,
    /// What discharge prescribes of it; none: the dose in force.
    pub maintenance: Option<Maintenance>,
}

impl Exercise {
    /// The row of a variable.
    #[must_use]
    pub fn row(&self, variable: Variable) -> Option<&Row> {
        self.rows.iter().find(|row| row.variable == variable)
    }

    /// The UCUM unit of its loads: `N.m` of a sequence, `N` of numbers; none where it has none or they are labels.
    #[must_use]
    pub fn load_unit(&self) -> Option<&'static str> {
        let row = self.row(Variable::Load)?;
        let number = |step: &RowStep| matches!(step.value, RowValue::Number(_));
        if row.is_sequence {
            Some(TORQUE)
        } else if row.values.iter().all(number) {
            Variable::Load.unit()
        } else {
            None
        }
    }

    /// Whether its ladder says how long a set takes: by a hold time, or by a tempo of so many seconds, or both.
    #[must_use]
    pub fn is_timed(&self) -> bool {
        let holds = self.row(Variable::HoldTime).is_some();
        match self.row(Variable::Tempo) {
            Some(tempo) => tempo.values.iter().all(|step| step.seconds.is_some()),
            None => holds,
        }
    }
}

/// The unit of a sequence of loads: joint torque.
pub const TORQUE: &str = "N.m";

/// Rows that give way, by index into [`Exercise::rows`], in order. Each is exhausted before the next.
pub type GivesWay = Vec<u16>;

/// One row of a ladder.
#[derive(Clone, Debug)]
pub struct Row {
    /// The variable.
    pub variable: Variable,
    /// Its values, gentlest first. Never empty.
    pub values: Vec<RowStep>,
    /// Whether the values are a sequence of joint torques in N.m, each a share above the one before: the loads of an
    /// exercise that is done with a band.
    pub is_sequence: bool,
    /// Whether it goes back to its first value when a slower row turns (`returns`), or stays at its last (`stays`).
    pub returns: bool,
}

/// A value of a row, with what it needs.
#[derive(Clone, Debug)]
pub struct RowStep {
    /// The value.
    pub value: RowValue,
    /// What must be met before a climb may arrive on a rung that has this value where the rung below has another.
    pub needs: Option<Criterion>,
    /// Of a tempo: how long one repetition takes, in seconds; none: not told.
    pub seconds: Option<Milli>,
}

/// A value of a progression variable.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum RowValue {
    /// A number in the variable's own unit (reps and sets: counts; hold time and rest: s; range: deg).
    Number(Milli),
    /// A label, such as `chest height`.
    Label(Key),
}

/// A rung: for each row of the exercise, the index of its value.
#[derive(Clone, PartialEq, Eq, Hash, Debug)]
pub struct Rung(pub Vec<u16>);

/// What is prescribed of an exercise at discharge: values that replace those of the dose in force.
#[derive(Clone, Debug)]
pub struct Maintenance {
    /// Replaced values.
    pub dose: Vec<(Variable, RowValue)>,
}

impl std::fmt::Display for RowValue {
    /// The number or the label, as written.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Number(number) => number.fmt(f),
            Self::Label(label) => f.write_str(label),
        }
    }
}
