//! Why nothing fits: for each band and number of strands what binds and by how much, and the nearest setting there is.
//!
//! Leaves to others: what fits (`super`), and what is then asked of whom (the engine).

use super::{Found, Hold, Key, Search, Sight, change_mpct};
use crate::motion::{STANCE_MM, Varies};
use crate::profile::Setting;
use crate::thousandths::Shown;
use alloc::string::String;
use alloc::vec::Vec;
use core::fmt;

/// What stands in the way, and by how much.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Bind {
    /// There is no band.
    NothingOwned,
    /// The room ends before: so much more is needed.
    Room {
        /// In mm.
        over_mm: i64,
    },
    /// One would have to stand nearer than one may.
    Near {
        /// By so many mm.
        over_mm: i64,
    },
    /// The band would have to be held shorter than it may be.
    Hold {
        /// By so many mm.
        over_mm: i64,
    },
    /// The band would not be tight enough at the start.
    Start {
        /// Tension lacking, in thousandths of a N.
        short_mn: i64,
        /// Of that, a band that hangs loose: by so many mm.
        slack_mm: i64,
    },
    /// The band would be past its safe elongation.
    Elongation {
        /// By so many thousandths of a percent.
        over_mpct: i64,
    },
    /// The least that it can be set to is too much more than last time.
    StepTooLarge {
        /// By so many thousandths of a percent beyond the greatest step.
        over_mpct: i64,
    },
    /// The least that it can be set to is above the wanted load.
    TooHeavy {
        /// By so many thousandths of a N·m.
        over_mnm: i64,
    },
    /// The most that it can be set to is below what is wanted.
    TooLight {
        /// By so many thousandths of a N·m.
        short_mnm: i64,
    },
    /// At the named angle the band does not hinder wherever one stands.
    NoMoment,
}

/// What stands in the way of one band.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Refusal {
    /// Its index into what is owned.
    pub band: usize,
    /// Its label.
    pub label: String,
    /// How many strands.
    pub strands: u8,
    /// What binds.
    pub bind: Bind,
}

/// The possible setting with the load nearest to what was wanted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Nearest {
    /// What can be set up.
    pub setting: Setting,
    /// The load that it gives.
    pub load_mnm: i64,
}

/// Nothing fits.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NoFit {
    /// What binds for each band and number of strands, that which changes least for the person first. Empty where nothing
    /// is owned.
    pub refusals: Vec<Refusal>,
    /// The nearest that is possible; none: nothing is.
    pub nearest: Option<Nearest>,
}

impl NoFit {
    /// What binds for the band that changes least for the person.
    #[must_use]
    pub fn bind(&self) -> Bind {
        self.refusals
            .first()
            .map_or(Bind::NothingOwned, |refusal| refusal.bind)
    }
}

impl core::error::Error for NoFit {}

impl fmt::Display for NoFit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.refusals.is_empty() {
            return write!(f, "{}", Bind::NothingOwned);
        }
        f.write_str("no setting gives the load")?;
        for refusal in &self.refusals {
            let doubled = if refusal.strands > 1 { " doubled" } else { "" };
            write!(f, "; `{}`{doubled}: {}", refusal.label, refusal.bind)?;
        }
        Ok(())
    }
}

impl fmt::Display for Bind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::NothingOwned => f.write_str("no measured band is owned"),
            Self::Room { over_mm } => write!(f, "the room is {over_mm} mm too short"),
            Self::Near { over_mm } => write!(f, "one would stand {over_mm} mm too near"),
            Self::Hold { over_mm } => {
                write!(f, "it would be held {over_mm} mm too short")
            }
            Self::Start { slack_mm, .. } if slack_mm > 0 => {
                write!(f, "it would be slack by {slack_mm} mm")
            }
            Self::Start { short_mn, .. } => write!(
                f,
                "its tension at the start would be {} N too low",
                Shown(short_mn)
            ),
            Self::Elongation { over_mpct } => write!(
                f,
                "it would be {} % past its safe elongation",
                Shown(over_mpct)
            ),
            Self::StepTooLarge { over_mpct } => {
                write!(f, "its least step up is {} % too large", Shown(over_mpct))
            }
            Self::TooHeavy { over_mnm } => {
                write!(f, "its least load is {} N.m too high", Shown(over_mnm))
            }
            Self::TooLight { short_mnm } => {
                write!(f, "its highest load is {} N.m too low", Shown(short_mnm))
            }
            Self::NoMoment => f.write_str("it does not hinder at the named angle"),
        }
    }
}

/// What was seen of one hold.
#[derive(Default)]
struct Seen {
    /// The highest possible load below what is wanted.
    below_mnm: Option<i64>,
    /// The lowest possible load above it.
    above_mnm: Option<i64>,
    /// The least that a setting with a wanted load lacks, of those that lack one thing.
    lacking: Option<Bind>,
    /// The least that a setting within the room lacks, whatever its load, after whether it lacks another thing too: what
    /// mended alone would let the band be set comes first.
    in_room: Option<(bool, Bind)>,
    /// How far the nearest setting is from the room.
    beyond: Option<Bind>,
    hinders: bool,
}

/// What one setting lacks, but for its load.
struct Lacks {
    span: Option<Bind>,
    start: Option<Bind>,
    elongation: Option<Bind>,
}

impl Lacks {
    /// Whether it is one thing or nothing.
    fn only(&self) -> Option<Only> {
        match (self.span, self.start, self.elongation) {
            (None, None, None) => Some(Only::Nothing),
            (Some(lack), None, None) | (None, Some(lack), None) | (None, None, Some(lack)) => {
                Some(Only::One(lack))
            }
            _ => None,
        }
    }
}

/// At most one lack.
enum Only {
    Nothing,
    One(Bind),
}

impl<'a> Search<'a> {
    /// What binds, where nothing fits. `sights` are those of the room.
    pub(super) fn refuse(&self, sights: &[Sight]) -> NoFit {
        let everywhere = self.sights(*STANCE_MM.start(), *STANCE_MM.end());
        let mut holds: Vec<Hold<'a>> = self.holds().collect();
        holds.sort_by_key(|hold| (self.rank(hold), hold.band.label.as_str(), hold.index));
        let refusals = holds
            .iter()
            .map(|hold| Refusal {
                band: hold.index,
                label: hold.band.label.clone(),
                strands: hold.strands,
                bind: self.bind(&self.seen(hold, &everywhere)),
            })
            .collect();
        NoFit {
            refusals,
            nearest: self.nearest(&holds, sights),
        }
    }

    /// Looks at every setting of a hold, whether it is in the room or not.
    fn seen(&self, hold: &Hold<'_>, everywhere: &[Sight]) -> Seen {
        let mut seen = Seen::default();
        for length_mm in self.working_lengths(hold, 1) {
            for sight in everywhere {
                let found = self.found(hold, length_mm, sight);
                let lacks = self.lacks(hold, &found);
                seen.hinders |= found.band_mnm > Some(0);
                match lacks.span {
                    Some(_) => seen.beyond = least(seen.beyond, lacks.span),
                    None => {
                        let lack = lacks.start.or(lacks.elongation);
                        let is_more = lacks.start.is_some() && lacks.elongation.is_some();
                        seen.in_room = least(seen.in_room, lack.map(|lack| (is_more, lack)));
                    }
                }
                if found.band_mnm > Some(0) {
                    self.see_load(&mut seen, &found, &lacks);
                }
            }
        }
        seen
    }

    /// Takes note of the load of a setting that hinders.
    fn see_load(&self, seen: &mut Seen, found: &Found, lacks: &Lacks) {
        let Some(load_mnm) = found.load_mnm else {
            return;
        };
        match lacks.only() {
            Some(Only::Nothing) if load_mnm < self.least_mnm => {
                seen.below_mnm = seen.below_mnm.max(Some(load_mnm));
            }
            Some(Only::Nothing) if load_mnm > self.most_mnm => {
                seen.above_mnm = Some(seen.above_mnm.unwrap_or(i64::MAX).min(load_mnm));
            }
            Some(Only::One(lack)) if self.is_wanted(found) => {
                seen.lacking = least(seen.lacking, Some(lack));
            }
            _ => {}
        }
    }

    /// What of a hold binds, after what was seen of it.
    fn bind(&self, seen: &Seen) -> Bind {
        match (seen.lacking, seen.above_mnm) {
            // What could be set if only there were room is not too heavy.
            (Some(lack @ (Bind::Room { .. } | Bind::Near { .. } | Bind::Hold { .. })), _)
            | (Some(lack), None) => return lack,
            (_, Some(above_mnm)) => return self.too_much(above_mnm),
            (None, None) => {}
        }
        if let Some(below_mnm) = seen.below_mnm {
            let short_mnm = self.least_mnm - below_mnm;
            return Bind::TooLight { short_mnm };
        }
        let in_room = seen.in_room.map(|(_, lack)| lack);
        let lack = in_room.or(seen.beyond).filter(|_| seen.hinders);
        lack.unwrap_or(Bind::NoMoment)
    }

    fn too_much(&self, above_mnm: i64) -> Bind {
        match self.wanted.step {
            Some(step) if above_mnm <= self.wanted.torque_mnm => Bind::StepTooLarge {
                over_mpct: change_mpct(step.last_mnm, above_mnm) - step.mpct_max,
            },
            _ => Bind::TooHeavy {
                over_mnm: above_mnm - self.wanted.torque_mnm,
            },
        }
    }

    fn lacks(&self, hold: &Hold<'_>, found: &Found) -> Lacks {
        let short_mn = self.wanted.start_mn_min - found.start_mn;
        let slack_mm = found.slack_mm.unwrap_or(0);
        let over_mpct = found.elongation_mpct - hold.band.safe_mpct();
        Lacks {
            span: self.beyond_span(found),
            start: (short_mn > 0 || slack_mm > 0).then_some(Bind::Start { short_mn, slack_mm }),
            elongation: (over_mpct > 0).then_some(Bind::Elongation { over_mpct }),
        }
    }

    /// How far a setting is outside the room or held too short.
    fn beyond_span(&self, found: &Found) -> Option<Bind> {
        let stance_mm = i64::from(found.setting.stance_mm);
        let (nearest_mm, furthest_mm) = (
            i64::from(self.owned.stance_mm_min),
            i64::from(self.owned.stance_mm_max),
        );
        match self.motion.varies() {
            Varies::Stance if stance_mm > furthest_mm => Some(Bind::Room {
                over_mm: stance_mm - furthest_mm,
            }),
            Varies::Stance if stance_mm < nearest_mm => Some(Bind::Near {
                over_mm: nearest_mm - stance_mm,
            }),
            Varies::WorkingLength => {
                let over_mm = i64::from(self.owned.working_length_mm_min)
                    - i64::from(found.setting.working_length_mm);
                (over_mm > 0).then_some(Bind::Hold { over_mm })
            }
            Varies::Stance => None,
        }
    }

    fn nearest(&self, holds: &[Hold<'a>], sights: &[Sight]) -> Option<Nearest> {
        let mut best: Option<((i64, Key<'a>), Nearest)> = None;
        for hold in holds {
            for length_mm in self.working_lengths(hold, self.owned.working_length_mm_min) {
                for sight in sights {
                    let found = self.found(hold, length_mm, sight);
                    let Some(load_mnm) = found.load_mnm.filter(|_| self.can_be(&found)) else {
                        continue;
                    };
                    let off_mnm = (load_mnm - self.most_mnm).abs();
                    let key = (off_mnm, self.key(hold, &found));
                    if best.as_ref().is_none_or(|(best_key, _)| key < *best_key) {
                        let setting = found.setting;
                        best = Some((key, Nearest { setting, load_mnm }));
                    }
                }
            }
        }
        best.map(|(_, nearest)| nearest)
    }
}

/// The lesser of two lacks; of two kinds, that which is easier to mend, which is the order of [`Bind`].
fn least<T: Ord>(a: Option<T>, b: Option<T>) -> Option<T> {
    match (a, b) {
        (Some(a), Some(b)) => Some(a.min(b)),
        (a, b) => a.or(b),
    }
}
