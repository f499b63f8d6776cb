//! The setting that gives a wanted load with what a person owns, in whole centimetres, and why there is none.
//!
//! Every whole centimetre of every band is looked at, single and doubled, so that what is found is the best there is. What
//! decides is whole thousandths rounded toward caution: loads up, the tension that must be there down. The load found is
//! never above the wanted one.
//!
//! Leaves to others: which load is wanted and what happens where none fits (the engine), and what a person owns (facts).

mod refuse;

use crate::band::{Band, STRANDS_MAX};
use crate::body::Body;
use crate::motion::{Arc, Course, Motion, MotionError, STANCE_MM, Turned, Varies};
use crate::profile::{Point, ProfileError, Pull, Setting, Summary};
use crate::stretch::{Ends, Lengths, elongation, rest_m};
use crate::thousandths::{Shown, down, up};
use alloc::vec::Vec;
use core::cmp::Reverse;
pub use refuse::{Bind, Nearest, NoFit, Refusal};

/// How many bands are looked at.
pub const OWNED_MAX: usize = 32;

/// What a person can set: whole centimetres.
pub const GRID_MM: u32 = 10;

/// The highest load that may be wanted, in thousandths of a N·m.
pub const TORQUE_MNM_MAX: i64 = 1_000_000;

/// 100 % in thousandths of a percent.
const WHOLE_MPCT: i64 = 100_000;

/// Which torque is the load.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Counts {
    /// The band's alone.
    Band,
    /// That of band and limb together.
    Whole,
}

/// The load before, and how much more may follow on it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Step {
    /// The load really obtained last time.
    pub last_mnm: i64,
    /// The least that it must go up by, in thousandths of a percent; 0: by anything.
    pub mpct_min: i64,
    /// The most that it may go up by.
    pub mpct_max: i64,
}

/// What is wanted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Wanted {
    /// The load at the named angle, never exceeded.
    pub torque_mnm: i64,
    /// The named angle.
    pub at_mdeg: i64,
    /// The angles of one repetition.
    pub arc: Arc,
    /// Which torque is the load.
    pub counts: Counts,
    /// Tension that there must be at the start, at least 1: a band that just hangs straight has none.
    pub start_mn_min: i64,
    /// A step up, within bounds of it. None: the highest load at or below the wanted one, however light.
    pub step: Option<Step>,
    /// How much lighter than the wanted load still is that load, in thousandths of a percent. Without a step, a setting
    /// that changes less is preferred only among those within it.
    pub short_mpct_max: i64,
}

/// A band that a person has.
#[derive(Clone, Copy, Debug)]
pub struct OwnedBand<'a> {
    /// The band.
    pub band: &'a Band,
    /// Whether it may be folded.
    pub may_be_doubled: bool,
}

/// What there is to choose from.
#[derive(Clone, Copy, Debug)]
pub struct Owned<'a> {
    /// The bands, at most [`OWNED_MAX`].
    pub bands: &'a [OwnedBand<'a>],
    /// Whose they are.
    pub body: &'a Body,
    /// The nearest to the anchor that one may stand.
    pub stance_mm_min: u32,
    /// The furthest: the room.
    pub stance_mm_max: u32,
    /// The shortest that a band may be held, where that is what varies.
    pub working_length_mm_min: u32,
    /// The setting before, if its band is still there.
    pub last: Option<Setting>,
}

/// A setting that fits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Fit {
    /// What to set up.
    pub setting: Setting,
    /// The load really obtained, rounded up; never above the wanted one.
    pub load_mnm: i64,
    /// Whether that is the wanted load, or only the highest below it.
    pub meets: bool,
    /// How much more than last time, in thousandths of a percent, rounded up; none without a step.
    pub change_mpct: Option<i64>,
    /// What there is at the named angle.
    pub at: Point,
    /// Tension at start and end, peak, mean and work.
    pub summary: Summary,
}

/// Why there is no answer.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum SolveError {
    /// What was asked cannot be.
    #[error(transparent)]
    Motion(#[from] MotionError),
    /// Beyond the bounds of this module.
    #[error("{what} `{given}`; from {min} to {max} is allowed")]
    Bounds {
        /// What was given.
        what: &'static str,
        /// How much.
        given: i64,
        /// The least that is allowed.
        min: i64,
        /// The most.
        max: i64,
    },
    /// The load is that of band and limb, and the limb's mass is not known.
    #[error("the load counts the limb's weight, and the body's mass is not known")]
    MassUnknown,
    /// A step up that the wanted load is not.
    #[error("a load of `{} N.m` is no step of at least {} % up from {} N.m; at least {} N.m is allowed", Shown(*wanted_mnm), Shown(*mpct_min), Shown(*last_mnm), Shown(*least_mnm))]
    NoStep {
        /// What is wanted.
        wanted_mnm: i64,
        /// The load before.
        last_mnm: i64,
        /// The least that it must go up by.
        mpct_min: i64,
        /// The least that would be a step.
        least_mnm: i64,
    },
    /// Nothing that the person owns can be set so.
    #[error(transparent)]
    NoFit(#[from] NoFit),
    /// A setting that was found is not sound: our own mistake.
    #[error("a setting that was found is not sound: {0}")]
    Unsound(ProfileError),
}

/// The best setting for a wanted load.
///
/// Of the settings with tension at the start, nowhere slack or past the band's safe elongation, and within the room, at or
/// below the wanted load and within the step: the same band and strands as last time come first, then another band with as
/// many strands, then the same band with other strands, then another with others (single before doubled, where there is no
/// last time). Each band is taken at the highest load that it can be set to; of several the one with the most tension at the
/// start comes first: the lightest, which pulls most evenly and on which a centimetre tells least. Then the load, the band's
/// label, and the least elongation. Where nothing comes near the wanted load, the highest load comes first.
///
/// # Errors
/// What was asked is out of bounds; or nothing fits: what binds for each band, by how much, and the nearest setting.
pub fn solve(motion: &Motion, owned: &Owned<'_>, wanted: &Wanted) -> Result<Fit, SolveError> {
    let search = Search::new(motion, owned, wanted)?;
    let sights = search.sights(search.owned.stance_mm_min, search.owned.stance_mm_max);
    let mut best: Option<(Key<'_>, Found)> = None;
    for hold in search.holds() {
        // Of one band the highest load, and of several settings with it the least stretched.
        let highest = search
            .fitting(&hold, &sights)
            .min_by_key(|found| (Reverse(found.load_mnm), found.elongation_mpct));
        let Some(found) = highest else { continue };
        let key = search.key(&hold, &found);
        if best.as_ref().is_none_or(|(best_key, _)| key < *best_key) {
            best = Some((key, found));
        }
    }
    match best {
        Some((_, found)) => search.fit(found),
        None => Err(search.refuse(&sights).into()),
    }
}

/// What is compared of the settings of two bands: lower is better.
type Key<'a> = (bool, u8, [Reverse<i64>; 2], &'a str, usize, u8);

/// A question, checked and made ready.
struct Search<'a> {
    motion: &'a Motion,
    owned: &'a Owned<'a>,
    wanted: &'a Wanted,
    course: Course,
    ends: Ends,
    at: Turned,
    /// Torque of the limb's weight at the named angle where it counts.
    limb_nm: f64,
    /// Loads that may be obtained.
    least_mnm: i64,
    most_mnm: i64,
}

/// One band with so many strands.
#[derive(Clone, Copy)]
struct Hold<'a> {
    index: usize,
    band: &'a Band,
    strands: u8,
}

/// The geometry at one stance.
#[derive(Clone, Copy)]
struct Sight {
    stance_mm: u32,
    lengths: Lengths,
    at_m: f64,
    moment_arm_m: f64,
}

/// One setting and what decides about it.
#[derive(Clone, Copy)]
struct Found {
    setting: Setting,
    /// None where the band is tight all the way.
    slack_mm: Option<i64>,
    start_mn: i64,
    elongation_mpct: i64,
    /// Of the band at the named angle, where its force is known.
    band_mnm: Option<i64>,
    load_mnm: Option<i64>,
}

impl<'a> Search<'a> {
    fn new(
        motion: &'a Motion,
        owned: &'a Owned<'a>,
        wanted: &'a Wanted,
    ) -> Result<Self, SolveError> {
        check_bounds(owned, wanted)?;
        motion.check_arc(wanted.arc)?;
        wanted.arc.check(wanted.at_mdeg)?;
        let course = motion.of(owned.body)?;
        let at = Turned::by(wanted.at_mdeg);
        let limb_nm = match wanted.counts {
            Counts::Band => 0.0,
            Counts::Whole => course
                .at_stance(0)
                .limb_torque_nm(at)
                .ok_or(SolveError::MassUnknown)?,
        };
        let (least_mnm, most_mnm) = window(wanted)?;
        Ok(Self {
            motion,
            owned,
            wanted,
            course,
            ends: Ends::of(wanted.arc),
            at,
            limb_nm,
            least_mnm,
            most_mnm,
        })
    }

    /// Every band, single and, where it may be, doubled.
    fn holds(&self) -> impl Iterator<Item = Hold<'a>> {
        let owned = self.owned;
        owned.bands.iter().enumerate().flat_map(|(index, of)| {
            let strands_max = if of.may_be_doubled { STRANDS_MAX } else { 1 };
            (1..=strands_max).map(move |strands| Hold {
                index,
                band: of.band,
                strands,
            })
        })
    }

    /// The geometry at every whole centimetre of a span of stances; at one, where the stance does not matter.
    fn sights(&self, stance_mm_min: u32, stance_mm_max: u32) -> Vec<Sight> {
        match self.motion.varies() {
            Varies::Stance => on_grid(stance_mm_min, stance_mm_max)
                .map(|stance_mm| self.sight(stance_mm))
                .collect(),
            Varies::WorkingLength => [self.sight(0)].into(),
        }
    }

    fn sight(&self, stance_mm: u32) -> Sight {
        let path = self.course.at_stance(stance_mm);
        let at_m = path.length_m(self.at);
        Sight {
            stance_mm,
            lengths: Lengths::on(&path, &self.ends),
            at_m,
            moment_arm_m: path.moment_arm_m(self.at, at_m),
        }
    }

    /// The working lengths that a hold is looked at with.
    fn working_lengths(
        &self,
        hold: &Hold<'_>,
        shortest_mm: u32,
    ) -> impl Iterator<Item = u32> + use<> {
        let longest_mm = hold.band.working_length_max_mm(hold.strands);
        let (least_mm, most_mm, step_mm) = match self.motion.varies() {
            Varies::Stance => {
                let declared_mm = self.motion.working_length_mm().unwrap_or(longest_mm);
                let held_mm = declared_mm.min(longest_mm);
                (held_mm, held_mm, 1)
            }
            Varies::WorkingLength => (shortest_mm.next_multiple_of(GRID_MM), longest_mm, GRID_MM),
        };
        (least_mm.max(1)..=most_mm).step_by(usize::try_from(step_mm).unwrap_or(1))
    }

    /// Every setting of a hold that fits.
    fn fitting(&self, hold: &Hold<'_>, sights: &[Sight]) -> impl Iterator<Item = Found> {
        let hold = *hold;
        self.working_lengths(&hold, self.owned.working_length_mm_min)
            .flat_map(move |length_mm| sights.iter().map(move |sight| (length_mm, sight)))
            .filter_map(move |(length_mm, sight)| {
                // What is slack or overstretched is left aside before its load is worked out.
                let rest_m = rest_m(length_mm);
                if sight.lengths.slack_mm(rest_m).is_some()
                    || sight.lengths.elongation_mpct(rest_m)? > hold.band.safe_mpct()
                {
                    return None;
                }
                Some(self.found(&hold, length_mm, sight))
            })
            .filter(|found| self.can_be(found) && self.is_wanted(found))
    }

    /// Everything about one setting, whether it fits or not.
    fn found(&self, hold: &Hold<'_>, working_length_mm: u32, sight: &Sight) -> Found {
        let rest_m = rest_m(working_length_mm);
        let strands = f64::from(hold.strands);
        let slack_mm = sight.lengths.slack_mm(rest_m);
        let force_n = |length_m| {
            let each_n = hold.band.curve.force_n(elongation(length_m, rest_m));
            each_n.map(|each_n| strands * each_n)
        };
        let start_n = match slack_mm {
            Some(_) => None,
            None => force_n(sight.lengths.start_m),
        };
        let band_nm = force_n(sight.at_m).map(|force_n| force_n * sight.moment_arm_m);
        Found {
            setting: Setting {
                band: hold.index,
                strands: hold.strands,
                working_length_mm,
                stance_mm: sight.stance_mm,
            },
            slack_mm,
            start_mn: start_n.and_then(down).unwrap_or(0),
            elongation_mpct: sight.lengths.elongation_mpct(rest_m).unwrap_or(i64::MAX),
            band_mnm: band_nm.and_then(up),
            load_mnm: band_nm.and_then(|band_nm| up(band_nm + self.limb_nm)),
        }
    }

    /// Whether a setting may be set up at all: tight, with tension at the start, safe, and hindering at the named angle.
    fn can_be(&self, found: &Found) -> bool {
        let safe_mpct = self
            .owned
            .bands
            .get(found.setting.band)
            .map_or(0, |of| of.band.safe_mpct());
        found.slack_mm.is_none()
            && found.start_mn >= self.wanted.start_mn_min
            && found.elongation_mpct <= safe_mpct
            && found.band_mnm.is_some_and(|band_mnm| band_mnm > 0)
    }

    /// Whether its load may be obtained.
    fn is_wanted(&self, found: &Found) -> bool {
        found
            .load_mnm
            .is_some_and(|load_mnm| (self.least_mnm..=self.most_mnm).contains(&load_mnm))
    }

    fn key(&self, hold: &Hold<'a>, found: &Found) -> Key<'a> {
        let load_mnm = found.load_mnm.unwrap_or(i64::MIN);
        let (load, start) = (Reverse(load_mnm), Reverse(found.start_mn));
        let (meets, rank, order) = match self.wanted.step {
            Some(_) => (true, self.rank(hold), [start, load]),
            None if self.meets(load_mnm) => (true, self.rank(hold), [start, load]),
            // Where nothing comes near, the load comes first.
            None => (false, 0, [load, start]),
        };
        (
            !meets,
            rank,
            order,
            &hold.band.label,
            hold.index,
            hold.strands,
        )
    }

    /// How much a hold changes for the person: less is better.
    fn rank(&self, hold: &Hold<'_>) -> u8 {
        match self.owned.last {
            None => hold.strands - 1,
            Some(last) => {
                u8::from(last.band != hold.index) + 2 * u8::from(last.strands != hold.strands)
            }
        }
    }

    /// Whether a load, which is not above the wanted one, is the wanted one.
    fn meets(&self, load_mnm: i64) -> bool {
        load_mnm * WHOLE_MPCT >= self.wanted.torque_mnm * (WHOLE_MPCT - self.wanted.short_mpct_max)
    }

    fn fit(&self, found: Found) -> Result<Fit, SolveError> {
        let setting = found.setting;
        let unsound = SolveError::Unsound;
        let Some(of) = self.owned.bands.get(setting.band) else {
            return Err(unsound(ProfileError::Unbounded));
        };
        let pull = Pull::new(
            self.motion,
            self.owned.body,
            of.band,
            &setting,
            self.wanted.arc,
        )
        .map_err(unsound)?;
        let load_mnm = found.load_mnm.ok_or(unsound(ProfileError::Unbounded))?;
        Ok(Fit {
            setting,
            load_mnm,
            meets: self.meets(load_mnm),
            change_mpct: self
                .wanted
                .step
                .map(|step| change_mpct(step.last_mnm, load_mnm)),
            at: pull.point(self.wanted.at_mdeg).map_err(unsound)?,
            summary: pull.summary().map_err(unsound)?,
        })
    }
}

/// How much more one load is than another, above nought, in thousandths of a percent, rounded up.
#[must_use]
pub fn change_mpct(from_mnm: i64, to_mnm: i64) -> i64 {
    let from = from_mnm.max(1);
    let scaled = (to_mnm - from) * WHOLE_MPCT;
    scaled.div_euclid(from) + i64::from(scaled.rem_euclid(from) != 0)
}

/// Whole centimetres from one length to another, both in mm.
fn on_grid(least_mm: u32, most_mm: u32) -> impl Iterator<Item = u32> {
    (least_mm.div_ceil(GRID_MM)..=most_mm / GRID_MM).map(|whole_cm| whole_cm * GRID_MM)
}

/// The least and the most that may be obtained.
fn window(wanted: &Wanted) -> Result<(i64, i64), SolveError> {
    let Some(step) = wanted.step else {
        return Ok((1, wanted.torque_mnm));
    };
    let more_min = (step.last_mnm * step.mpct_min + WHOLE_MPCT - 1) / WHOLE_MPCT;
    let least_mnm = step.last_mnm + more_min.max(1);
    let most_mnm = step.last_mnm + step.last_mnm * step.mpct_max / WHOLE_MPCT;
    if wanted.torque_mnm < least_mnm {
        return Err(SolveError::NoStep {
            wanted_mnm: wanted.torque_mnm,
            last_mnm: step.last_mnm,
            mpct_min: step.mpct_min,
            least_mnm,
        });
    }
    Ok((least_mnm, wanted.torque_mnm.min(most_mnm)))
}

/// Refuses what is out of bounds.
fn check_bounds(owned: &Owned<'_>, wanted: &Wanted) -> Result<(), SolveError> {
    let count = i64::try_from(owned.bands.len()).unwrap_or(i64::MAX);
    let most_bands = i64::try_from(OWNED_MAX).unwrap_or(i64::MAX);
    let stance_max = i64::from(*STANCE_MM.end());
    let stance_mm_min = i64::from(owned.stance_mm_min);
    let step = wanted.step.unwrap_or(Step {
        last_mnm: 1,
        mpct_min: 0,
        mpct_max: 0,
    });
    for (what, given, min, max) in [
        ("bands owned", count, 0, most_bands),
        ("nearest stance in mm", stance_mm_min, 0, stance_max),
        (
            "room in mm",
            i64::from(owned.stance_mm_max),
            stance_mm_min,
            stance_max,
        ),
        ("wanted load in mN.m", wanted.torque_mnm, 1, TORQUE_MNM_MAX),
        (
            "least tension at the start in mN",
            wanted.start_mn_min,
            1,
            TORQUE_MNM_MAX,
        ),
        ("load before in mN.m", step.last_mnm, 1, TORQUE_MNM_MAX),
        (
            "least step in thousandths of a percent",
            step.mpct_min,
            0,
            WHOLE_MPCT,
        ),
        (
            "greatest step in thousandths of a percent",
            step.mpct_max,
            step.mpct_min,
            WHOLE_MPCT,
        ),
        (
            "shortfall in thousandths of a percent",
            wanted.short_mpct_max,
            0,
            WHOLE_MPCT,
        ),
    ] {
        if !(min..=max).contains(&given) {
            return Err(SolveError::Bounds {
                what,
                given,
                min,
                max,
            });
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests;
