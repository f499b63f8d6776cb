//! What one setting of one band asks of a person, at every angle of an arc.
//!
//! Loads are rounded up and the tension that must be there is rounded down. Work and mean torque are exact integrals of the
//! band's curve, not sums over angles: the band's pull does the work that its stretching stores.
//!
//! Leaves to others: which setting it should be (`solve`), where the hand is (`motion`), how hard a band pulls (`curve`).

mod peak;

use crate::band::{Band, HoldError};
use crate::body::Body;
use crate::motion::{Arc, Course, Motion, MotionError, Path, STANCE_MM, Turned, Varies};
use crate::stretch::{Ends, Lengths, elongation, rest_m};
use crate::thousandths::{Shown, down, up};
use alloc::vec::Vec;
use core::fmt;
use core::ops::RangeInclusive;
use peak::{Highest, highest_between};

/// How many angles a profile may have.
pub const ANGLES: RangeInclusive<u16> = 2..=1_001;

/// What a person sets up.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Setting {
    /// Which band, as an index into what is owned.
    pub band: usize,
    /// How many strands side by side: a doubled band is folded, so each strand is at most half of it.
    pub strands: u8,
    /// Rest length of each strand between its two ends, in mm.
    pub working_length_mm: u32,
    /// Distance from the anchor in mm, as the motion measures it; 0 where there is none.
    pub stance_mm: u32,
}

/// What there is at one angle.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Point {
    /// The angle.
    pub at_mdeg: i64,
    /// Length of the band, in mm, rounded up.
    pub length_mm: i64,
    /// Its elongation, in thousandths of a percent, rounded up.
    pub elongation_mpct: i64,
    /// What all strands pull with, rounded up.
    pub force_mn: i64,
    /// Moment arm of the pull about the axis, in mm, rounded up.
    pub moment_arm_mm: i64,
    /// Torque of the band, rounded up.
    pub band_mnm: i64,
    /// Torque of the limb's weight, rounded up; negative where it helps; none where it acts and the mass is not known.
    pub limb_mnm: Option<i64>,
    /// Both together, rounded up.
    pub whole_mnm: Option<i64>,
}

/// A whole repetition in a few numbers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Effort {
    /// The highest torque, rounded up.
    pub peak_mnm: i64,
    /// Where it is; the first where it is so more than once.
    pub peak_at_mdeg: i64,
    /// Mean over the arc, rounded up.
    pub mean_mnm: i64,
    /// Work from the start to the end of the arc in thousandths of a J, rounded up. The way back is the same work again.
    pub work_mj: i64,
}

/// Everything about one setting.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Profile {
    /// Angles at equal distances, the arc's ends among them.
    pub points: Vec<Point>,
    /// Its sums.
    pub summary: Summary,
}

/// One setting without its angles.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Summary {
    /// Tension at the start, rounded down: it must be there.
    pub start_mn: i64,
    /// Tension at the end, rounded up.
    pub end_mn: i64,
    /// The greatest elongation on the arc, rounded up.
    pub elongation_mpct: i64,
    /// The band alone.
    pub band: Effort,
    /// Band and limb; none where the limb's weight acts and the mass is not known.
    pub whole: Option<Effort>,
}

/// What may be set instead, all else being the same, in whole cm.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Allowed {
    /// What is set.
    pub varies: Varies,
    /// The least and the most, in mm; none: nothing is allowed.
    pub span_mm: Option<(u32, u32)>,
}

impl fmt::Display for Allowed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let what = match self.varies {
            Varies::Stance => "stance",
            Varies::WorkingLength => "working length",
        };
        match self.span_mm {
            Some((least_mm, most_mm)) => {
                write!(f, "a {what} from {least_mm} to {most_mm} mm is allowed")
            }
            None => write!(f, "no {what} is allowed with this band and arc"),
        }
    }
}

/// Why there is no profile.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ProfileError {
    /// The motion itself cannot be made.
    #[error(transparent)]
    Motion(#[from] MotionError),
    /// The band cannot be held so.
    #[error(transparent)]
    Hold(#[from] HoldError),
    /// Too few or too many angles.
    #[error("`{given}` angles; from {} to {} are allowed", ANGLES.start(), ANGLES.end())]
    Angles {
        /// What was asked for.
        given: u16,
    },
    /// Nobody stands there.
    #[error("stance `{given_mm} mm`; from {} mm to {} mm is allowed", STANCE_MM.start(), STANCE_MM.end())]
    Stance {
        /// What was given.
        given_mm: u32,
    },
    /// The band hangs loose somewhere on the arc.
    #[error("the band is slack by `{slack_mm} mm` where it is shortest; {allowed}")]
    Slack {
        /// How far it is from being just tight, rounded up.
        slack_mm: i64,
        /// What would be allowed.
        allowed: Allowed,
    },
    /// The band would be stretched past its safe elongation.
    #[error("elongation `{} %`, past the safe {} %; {allowed}", Shown(*elongation_mpct), Shown(*max_mpct))]
    PastSafe {
        /// The greatest elongation on the arc, rounded up.
        elongation_mpct: i64,
        /// The band's safe elongation.
        max_mpct: i64,
        /// What would be allowed.
        allowed: Allowed,
    },
    /// A value that cannot leave as thousandths. The bounds of what comes in rule it out.
    #[error("a value beyond a million units")]
    Unbounded,
}

/// One setting of one band on one arc, found sound.
#[derive(Clone, Copy, Debug)]
pub struct Pull<'a> {
    band: &'a Band,
    strands: f64,
    rest_m: f64,
    path: Path,
    arc: Arc,
    ends: Ends,
    lengths: Lengths,
}

/// What there is at one angle, before it is rounded.
#[derive(Clone, Copy, Debug)]
struct Exact {
    length_m: f64,
    elongation: f64,
    force_n: f64,
    moment_arm_m: f64,
    band_nm: f64,
    limb_nm: Option<f64>,
}

impl Exact {
    /// Band and limb, as far as the limb's weight is known.
    fn whole_nm(&self) -> f64 {
        self.band_nm + self.limb_nm.unwrap_or_default()
    }
}

/// Everything about one setting at so many angles ([`ANGLES`]) of an arc.
///
/// # Errors
/// As [`Pull::new`] and [`Pull::profile`].
pub fn profile(
    motion: &Motion,
    body: &Body,
    band: &Band,
    setting: &Setting,
    arc: Arc,
    angles: u16,
) -> Result<Profile, ProfileError> {
    Pull::new(motion, body, band, setting, arc)?.profile(angles)
}

impl<'a> Pull<'a> {
    /// Checks a setting: that lengths and arc can be, and that the band is nowhere slack and nowhere past its safe
    /// elongation. (That the tension at the start is more than nought is for [`crate::solve`].)
    ///
    /// # Errors
    /// What is wrong, with what would be allowed.
    pub fn new(
        motion: &Motion,
        body: &Body,
        band: &'a Band,
        setting: &Setting,
        arc: Arc,
    ) -> Result<Self, ProfileError> {
        motion.check_arc(arc)?;
        band.held(setting.strands, setting.working_length_mm)?;
        if !STANCE_MM.contains(&setting.stance_mm) {
            return Err(ProfileError::Stance {
                given_mm: setting.stance_mm,
            });
        }
        let course = motion.of(body)?;
        let ends = Ends::of(arc);
        let path = course.at_stance(setting.stance_mm);
        let lengths = Lengths::on(&path, &ends);
        let rest_m = rest_m(setting.working_length_mm);
        let allowed = || Allowed {
            varies: motion.varies(),
            span_mm: span_allowed(motion, &course, band, setting, &ends),
        };
        if let Some(slack_mm) = lengths.slack_mm(rest_m) {
            return Err(ProfileError::Slack {
                slack_mm,
                allowed: allowed(),
            });
        }
        let elongation_mpct = lengths
            .elongation_mpct(rest_m)
            .ok_or(ProfileError::Unbounded)?;
        if elongation_mpct > band.safe_mpct() {
            return Err(ProfileError::PastSafe {
                elongation_mpct,
                max_mpct: band.safe_mpct(),
                allowed: allowed(),
            });
        }
        Ok(Self {
            band,
            strands: f64::from(setting.strands),
            rest_m,
            path,
            arc,
            ends,
            lengths,
        })
    }

    /// What there is at one angle.
    ///
    /// # Errors
    /// An angle outside the arc.
    pub fn point(&self, at_mdeg: i64) -> Result<Point, ProfileError> {
        self.arc.check(at_mdeg)?;
        self.rounded(at_mdeg, &self.exact(at_mdeg))
            .ok_or(ProfileError::Unbounded)
    }

    /// So many angles ([`ANGLES`]) at equal distances, rounded down to a thousandth of a degree.
    ///
    /// # Errors
    /// Another number of angles.
    pub fn profile(&self, angles: u16) -> Result<Profile, ProfileError> {
        if !ANGLES.contains(&angles) {
            return Err(ProfileError::Angles { given: angles });
        }
        let mut points = Vec::with_capacity(usize::from(angles));
        let mut highest = Highest::default();
        for index in 0..i64::from(angles) {
            let at_mdeg = self.angle_mdeg(index, i64::from(angles) - 1);
            let exact = self.exact(at_mdeg);
            highest.see(index, &exact);
            points.push(
                self.rounded(at_mdeg, &exact)
                    .ok_or(ProfileError::Unbounded)?,
            );
        }
        let summary = self
            .summed(&highest, i64::from(angles) - 1)
            .ok_or(ProfileError::Unbounded)?;
        Ok(Profile { points, summary })
    }

    /// The setting without its angles: the same as that of a profile of 181 angles.
    ///
    /// # Errors
    /// None that the bounds of what comes in do not rule out.
    pub fn summary(&self) -> Result<Summary, ProfileError> {
        let mut highest = Highest::default();
        for index in 0..=SUMMARY_STEPS {
            highest.see(index, &self.exact(self.angle_mdeg(index, SUMMARY_STEPS)));
        }
        self.summed(&highest, SUMMARY_STEPS)
            .ok_or(ProfileError::Unbounded)
    }

    /// The angle after so many of so many steps.
    fn angle_mdeg(&self, index: i64, steps: i64) -> i64 {
        self.arc.from_mdeg + (self.arc.to_mdeg - self.arc.from_mdeg) * index / steps
    }

    fn exact(&self, at_mdeg: i64) -> Exact {
        let angle = Turned::by(at_mdeg);
        let length_m = self.path.length_m(angle);
        let elongation = elongation(length_m, self.rest_m);
        let force_n = self.force_n(elongation);
        let moment_arm_m = self.path.moment_arm_m(angle, length_m);
        Exact {
            length_m,
            elongation,
            force_n,
            moment_arm_m,
            band_nm: force_n * moment_arm_m,
            limb_nm: self.path.limb_torque_nm(angle),
        }
    }

    /// What all strands pull with at an elongation on the arc, in N.
    fn force_n(&self, elongation: f64) -> f64 {
        self.strands * self.band.curve.force_n(elongation).unwrap_or_default()
    }

    fn rounded(&self, at_mdeg: i64, exact: &Exact) -> Option<Point> {
        let band_mnm = up(exact.band_nm)?;
        let (limb_mnm, whole_mnm) = match exact.limb_nm {
            _ if !self.path.gravity_acts() => (Some(0), Some(band_mnm)),
            Some(limb_nm) => (up(limb_nm), up(exact.band_nm + limb_nm)),
            None => (None, None),
        };
        Some(Point {
            at_mdeg,
            length_mm: up(exact.length_m)?,
            elongation_mpct: up(100.0 * exact.elongation)?,
            force_mn: up(exact.force_n)?,
            moment_arm_mm: up(exact.moment_arm_m)?,
            band_mnm,
            limb_mnm,
            whole_mnm,
        })
    }

    fn summed(&self, highest: &Highest, steps: i64) -> Option<Summary> {
        let Lengths { start_m, end_m, .. } = self.lengths;
        let force_n = |length_m| self.force_n(elongation(length_m, self.rest_m));
        let band_j = self.band_work_j(start_m, end_m);
        let band = self.effort(highest.band_index, steps, band_j, |exact| exact.band_nm)?;
        let whole = if self.path.gravity_acts() {
            let limb_j = self.path.limb_work_j(self.ends.from, self.ends.to);
            limb_j.and_then(|limb_j| {
                self.effort(highest.whole_index, steps, band_j + limb_j, Exact::whole_nm)
            })
        } else {
            Some(band)
        };
        Some(Summary {
            start_mn: down(force_n(start_m))?,
            end_mn: up(force_n(end_m))?,
            elongation_mpct: self.lengths.elongation_mpct(self.rest_m)?,
            band,
            whole,
        })
    }

    /// Work of one limb from one length to another, in J: what the band stores.
    fn band_work_j(&self, from_m: f64, to_m: f64) -> f64 {
        let stored_j = |length_m| {
            let each_j_per_m = self
                .band
                .curve
                .energy_j_per_m(elongation(length_m, self.rest_m));
            self.strands * self.rest_m * each_j_per_m.unwrap_or_default()
        };
        (stored_j(to_m) - stored_j(from_m)) / self.path.limbs()
    }

    /// Narrows down the highest torque about the highest of the steps, and adds mean and work.
    fn effort(
        &self,
        index: i64,
        steps: i64,
        work_j: f64,
        torque_nm: impl Fn(&Exact) -> f64,
    ) -> Option<Effort> {
        let between =
            [(index - 1).max(0), (index + 1).min(steps)].map(|index| self.angle_mdeg(index, steps));
        let (peak_at_mdeg, peak_nm) =
            highest_between(between, self.angle_mdeg(index, steps), |at_mdeg| {
                torque_nm(&self.exact(at_mdeg))
            });
        Some(Effort {
            peak_mnm: up(peak_nm)?,
            peak_at_mdeg,
            mean_mnm: up(work_j / self.arc.width_rad())?,
            work_mj: up(work_j)?,
        })
    }
}

/// Steps in which a summary looks for the highest torque: those of a profile of 181 angles.
const SUMMARY_STEPS: i64 = 180;

/// The whole cm that are allowed instead, all else being the same: those nearest to what is set that follow on each other.
fn span_allowed(
    motion: &Motion,
    course: &Course,
    band: &Band,
    setting: &Setting,
    ends: &Ends,
) -> Option<(u32, u32)> {
    let (set_mm, most_mm) = match motion.varies() {
        Varies::Stance => (setting.stance_mm, *STANCE_MM.end()),
        Varies::WorkingLength => (
            setting.working_length_mm,
            band.working_length_max_mm(setting.strands),
        ),
    };
    let is_allowed = |value_mm: u32| {
        let (stance_mm, working_length_mm) = match motion.varies() {
            Varies::Stance => (value_mm, setting.working_length_mm),
            Varies::WorkingLength => (setting.stance_mm, value_mm),
        };
        let lengths = Lengths::on(&course.at_stance(stance_mm), ends);
        let rest_m = rest_m(working_length_mm);
        lengths.slack_mm(rest_m).is_none()
            && lengths
                .elongation_mpct(rest_m)
                .is_some_and(|elongation_mpct| elongation_mpct <= band.safe_mpct())
    };
    let mut runs: Vec<(u32, u32)> = Vec::new();
    for value_mm in (10..=most_mm).step_by(10).filter(|mm| is_allowed(*mm)) {
        match runs.last_mut() {
            Some(run) if run.1 + 10 == value_mm => run.1 = value_mm,
            _ => runs.push((value_mm, value_mm)),
        }
    }
    runs.into_iter().min_by_key(|(least, most)| {
        least
            .saturating_sub(set_mm)
            .max(set_mm.saturating_sub(*most))
    })
}

#[cfg(test)]
mod tests;
