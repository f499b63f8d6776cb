//! The best there is, against every setting looked at in another way; what a fit promises; and that mending what is said
//! to bind unbinds it.

mod cases;

use super::{Bind, Counts, Fit, Owned, OwnedBand, SolveError, Step, Wanted, change_mpct, solve};
use crate::band::Band;
use crate::motion::{Arc, Motion, Varies};
use crate::profile::{Pull, Setting, Summary};
use crate::sample::{any_arc, any_motion, band, body, motions, strip};
use alloc::format;
use alloc::vec::Vec;
use proptest::prelude::*;

/// Everything that a question needs, owned.
#[derive(Clone, Debug)]
struct Question {
    motion: Motion,
    bands: Vec<(Band, bool)>,
    stance_mm: (u32, u32),
    working_length_mm_min: u32,
    last: Option<Setting>,
    wanted: Wanted,
}

/// Three bands, each stronger than the one before, none of which may be folded; 2.5 m of room.
fn question(motion: Motion, on: Arc, torque_mnm: i64) -> Question {
    Question {
        motion,
        bands: [("band 1", 6), ("band 2", 10), ("band 3", 16)]
            .map(|(label, tenths)| (band(label, 1_200, tenths), false))
            .into(),
        stance_mm: (400, 2_500),
        working_length_mm_min: 300,
        last: None,
        wanted: Wanted {
            torque_mnm,
            at_mdeg: i64::midpoint(on.from_mdeg, on.to_mdeg),
            arc: on,
            counts: Counts::Band,
            start_mn_min: 1,
            step: None,
            short_mpct_max: 10_000,
        },
    }
}

impl Question {
    fn with<T>(&self, ask: impl FnOnce(&Owned<'_>) -> T) -> T {
        let bands: Vec<OwnedBand<'_>> = self
            .bands
            .iter()
            .map(|(band, may_be_doubled)| OwnedBand {
                band,
                may_be_doubled: *may_be_doubled,
            })
            .collect();
        ask(&Owned {
            bands: &bands,
            body: &body(),
            stance_mm_min: self.stance_mm.0,
            stance_mm_max: self.stance_mm.1,
            working_length_mm_min: self.working_length_mm_min,
            last: self.last,
        })
    }

    fn solve(&self) -> Result<Fit, SolveError> {
        self.with(|owned| solve(&self.motion, owned, &self.wanted))
    }

    /// A climb from a fit of this question by a step of 2 % to `mpct_max`.
    fn after(&self, fit: &Fit, torque_mnm: i64, mpct_max: i64) -> Self {
        let mut next = self.clone();
        next.last = Some(fit.setting);
        next.wanted.torque_mnm = torque_mnm;
        next.wanted.step = Some(Step {
            last_mnm: fit.load_mnm,
            mpct_min: 2_000,
            mpct_max,
        });
        next
    }

    /// What binds for a band, single or doubled.
    fn bind(&self, band: usize, strands: u8) -> Option<Bind> {
        let Err(SolveError::NoFit(no_fit)) = self.solve() else {
            return None;
        };
        let refusals = no_fit.refusals.iter();
        let mut of = refusals.filter(|of| (of.band, of.strands) == (band, strands));
        of.next().map(|refusal| refusal.bind)
    }

    /// Every setting in whole centimetres that could be set up, with its load.
    fn every(&self) -> Vec<(Setting, i64)> {
        let mut all = Vec::new();
        for (index, (of, may_be_doubled)) in self.bands.iter().enumerate() {
            for strands in 1..=1 + u8::from(*may_be_doubled) {
                let longest_mm = of.rest_length_mm / u32::from(strands);
                let declared_mm = self.motion.working_length_mm().unwrap_or(u32::MAX);
                let settings: Vec<(u32, u32)> = match self.motion.varies() {
                    Varies::Stance => (0..=10_000)
                        .filter(|mm| {
                            mm % 10 == 0 && *mm >= self.stance_mm.0 && *mm <= self.stance_mm.1
                        })
                        .map(|stance_mm| (declared_mm.min(longest_mm), stance_mm))
                        .collect(),
                    Varies::WorkingLength => (1..=longest_mm)
                        .filter(|mm| mm % 10 == 0 && *mm >= self.working_length_mm_min)
                        .map(|length_mm| (length_mm, 0))
                        .collect(),
                };
                for (working_length_mm, stance_mm) in settings {
                    let setting = Setting {
                        band: index,
                        strands,
                        working_length_mm,
                        stance_mm,
                    };
                    all.extend(self.load(of, &setting).map(|load_mnm| (setting, load_mnm)));
                }
            }
        }
        all
    }

    /// The load of a setting, if it can be set up: as its profile says it.
    fn load(&self, of: &Band, setting: &Setting) -> Option<i64> {
        let pull = Pull::new(&self.motion, &body(), of, setting, self.wanted.arc).ok()?;
        let at = pull.point(self.wanted.at_mdeg).unwrap();
        let start_mn = pull.summary().unwrap().start_mn;
        let load_mnm = match self.wanted.counts {
            Counts::Band => at.band_mnm,
            Counts::Whole => at.whole_mnm.unwrap(),
        };
        (start_mn >= self.wanted.start_mn_min && at.band_mnm > 0).then_some(load_mnm)
    }

    /// Whether a load is one that may be obtained, in whole numbers and no shares.
    fn may_be(&self, load_mnm: i64) -> bool {
        let step_holds = self.wanted.step.is_none_or(|step| {
            let more = i128::from(load_mnm - step.last_mnm) * 100_000;
            let (least, most) = (
                i128::from(step.mpct_min) * i128::from(step.last_mnm),
                i128::from(step.mpct_max) * i128::from(step.last_mnm),
            );
            load_mnm > step.last_mnm && more >= least && more <= most
        });
        load_mnm >= 1 && load_mnm <= self.wanted.torque_mnm && step_holds
    }

    /// How many things a setting changes for the person; single before doubled where nothing was before.
    fn changes(&self, setting: &Setting) -> u8 {
        match self.last {
            None => setting.strands,
            Some(last) => match (last.band == setting.band, last.strands == setting.strands) {
                (true, true) => 0,
                (false, true) => 1,
                (true, false) => 2,
                (false, false) => 3,
            },
        }
    }

    /// The best by looking at all of them, told in the words of [`solve`]'s documentation.
    fn best(&self) -> Option<(Setting, i64)> {
        let mut fitting = self.every();
        fitting.retain(|(_, load_mnm)| self.may_be(*load_mnm));
        let near_mnm = |load_mnm: i64| {
            load_mnm * 100_000 >= self.wanted.torque_mnm * (100_000 - self.wanted.short_mpct_max)
        };
        if self.wanted.step.is_some() || fitting.iter().any(|(_, load_mnm)| near_mnm(*load_mnm)) {
            if self.wanted.step.is_none() {
                fitting.retain(|(_, load_mnm)| near_mnm(*load_mnm));
            }
            let least = fitting
                .iter()
                .map(|(setting, _)| self.changes(setting))
                .min();
            fitting.retain(|(setting, _)| Some(self.changes(setting)) == least);
            // Each band at its highest load; of those the one with the most tension at the start.
            let all = fitting.clone();
            let hold = |setting: &Setting| (setting.band, setting.strands);
            fitting.retain(|(setting, load_mnm)| {
                let same = all.iter().filter(|(of, _)| hold(of) == hold(setting));
                same.map(|(_, of_mnm)| of_mnm).max() == Some(load_mnm)
            });
            // Of one band's settings with its highest load the least stretched, as below.
            let stretch = |setting: &Setting| self.summary(setting).elongation_mpct;
            let all = fitting.clone();
            fitting.retain(|(setting, _)| {
                let same = all.iter().filter(|(of, _)| hold(of) == hold(setting));
                same.map(|(of, _)| stretch(of)).min() == Some(stretch(setting))
            });
            let start = |setting: &Setting| self.summary(setting).start_mn;
            let most = fitting.iter().map(|(setting, _)| start(setting)).max();
            fitting.retain(|(setting, _)| Some(start(setting)) == most);
        }
        let highest = fitting.iter().map(|(_, load_mnm)| *load_mnm).max();
        fitting.retain(|(_, load_mnm)| Some(*load_mnm) == highest);
        let label = |setting: &Setting| self.bands[setting.band].0.label.clone();
        let first = fitting.iter().map(|(setting, _)| label(setting)).min()?;
        fitting.retain(|(setting, _)| label(setting) == first);
        fitting.sort_by_key(|(setting, _)| {
            let elongation_mpct = self.summary(setting).elongation_mpct;
            (setting.band, setting.strands, elongation_mpct)
        });
        fitting.first().copied()
    }

    fn summary(&self, setting: &Setting) -> Summary {
        let of = &self.bands[setting.band].0;
        let pull = Pull::new(&self.motion, &body(), of, setting, self.wanted.arc).unwrap();
        pull.summary().unwrap()
    }
}

fn any_question() -> impl Strategy<Value = Question> {
    let plain = (0..4_usize).prop_map(|index| motions()[index]);
    let motion = prop_oneof![3 => plain, 1 => (any_motion(), any_arc())];
    let bands = prop::collection::vec(
        (400_u32..1_500, 3_i64..30, any::<bool>(), any::<bool>()),
        1..4,
    );
    let last = prop::option::of((0_usize..4, 1_u8..=2));
    let step = prop::option::of((200_i64..8_000, 0_i64..4_000, 0_i64..40_000));
    (
        (motion, bands, 0_u32..1_000, 200_u32..2_000, 100_u32..500),
        (200_i64..12_000, 0_i64..=1_000, any::<bool>(), 1_i64..4_000),
        (last, step, 0_i64..30_000),
    )
        .prop_map(|(has, wants, before)| {
            let ((motion, on), bands, nearest_mm, room_mm, working_length_mm_min) = has;
            let (torque_mnm, part, is_whole, start_mn_min) = wants;
            let (last, step, short_mpct_max) = before;
            // Two bands of one label may stand beside each other.
            let bands: Vec<(Band, bool)> = bands
                .into_iter()
                .enumerate()
                .map(|(index, (rest_mm, tenths, is_strip, may_be_doubled))| {
                    let label = format!("band {}", (index + 1) % 2);
                    let of = if is_strip {
                        strip(&label, rest_mm, tenths * 1_000)
                    } else {
                        band(&label, rest_mm, tenths)
                    };
                    (of, may_be_doubled)
                })
                .collect();
            Question {
                motion,
                bands,
                stance_mm: (nearest_mm, nearest_mm + room_mm),
                working_length_mm_min,
                last: last.map(|(band, strands)| Setting {
                    band,
                    strands,
                    working_length_mm: 600,
                    stance_mm: 900,
                }),
                wanted: Wanted {
                    torque_mnm: torque_mnm.max(step.map_or(0, |(last_mnm, ..)| last_mnm * 3 / 2)),
                    at_mdeg: on.from_mdeg + (on.to_mdeg - on.from_mdeg) * part / 1_000,
                    arc: on,
                    counts: if is_whole {
                        Counts::Whole
                    } else {
                        Counts::Band
                    },
                    start_mn_min,
                    step: step.map(|(last_mnm, mpct_min, more)| Step {
                        last_mnm,
                        mpct_min,
                        mpct_max: mpct_min + more,
                    }),
                    short_mpct_max,
                },
            }
        })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(150))]

    /// The same setting and load as the best of all settings; none where there is none, and then the nearest of all.
    #[test]
    fn the_best_of_every_setting_is_found(question in any_question()) {
        prop_assume!(question.motion.check_arc(question.wanted.arc).is_ok());
        match question.solve() {
            Ok(fit) => {
                prop_assert_eq!(Some((fit.setting, fit.load_mnm)), question.best());
                keeps_its_promises(&question, &fit);
            }
            Err(SolveError::NoFit(no_fit)) => {
                prop_assert_eq!(question.best(), None);
                let step_mnm = question.wanted.step.map_or(i64::MAX, |step| {
                    step.last_mnm + step.last_mnm * step.mpct_max / 100_000
                });
                let most_mnm = question.wanted.torque_mnm.min(step_mnm);
                let off_mnm = |load_mnm: i64| (load_mnm - most_mnm).abs();
                let every = question.every();
                let nearest = every.iter().map(|(_, load_mnm)| off_mnm(*load_mnm)).min();
                prop_assert_eq!(no_fit.nearest.map(|of| off_mnm(of.load_mnm)), nearest);
                if let Some(of) = no_fit.nearest {
                    prop_assert!(every.contains(&(of.setting, of.load_mnm)));
                }
            }
            Err(error) => prop_assert!(false, "{}", error),
        }
    }

    /// Whatever is said to bind for a band, once just that is mended by just as much it does not bind.
    #[test]
    fn mending_what_binds_unbinds_it(question in any_question()) {
        prop_assume!(question.motion.check_arc(question.wanted.arc).is_ok());
        let Err(SolveError::NoFit(no_fit)) = question.solve() else { return Ok(()) };
        for refusal in no_fit.refusals {
            let mut mended = question.clone();
            // No other band, so that the answer is with this one.
            mended.bands = [question.bands[refusal.band].clone()].into();
            mended.bands[0].1 = refusal.strands > 1;
            mended.last = None;
            let wanted = &mut mended.wanted;
            match refusal.bind {
                Bind::Room { over_mm } => mended.stance_mm.1 += u32::try_from(over_mm).unwrap(),
                Bind::Near { over_mm } => mended.stance_mm.0 -= u32::try_from(over_mm).unwrap(),
                Bind::Hold { over_mm } => mended.working_length_mm_min -= u32::try_from(over_mm).unwrap(),
                Bind::Start { slack_mm: 0, short_mn } => wanted.start_mn_min -= short_mn,
                Bind::Elongation { over_mpct } => mended.bands[0].0.elongation_max_mpct += over_mpct,
                Bind::StepTooLarge { over_mpct } => wanted.step.as_mut().unwrap().mpct_max += over_mpct,
                Bind::TooHeavy { over_mnm } => {
                    wanted.torque_mnm += over_mnm;
                    if let Some(step) = &mut wanted.step {
                        step.mpct_max = change_mpct(step.last_mnm, wanted.torque_mnm);
                    }
                }
                // The least that counts as more is not above the wanted load.
                Bind::TooLight { short_mnm } => {
                    prop_assert!(short_mnm >= 1);
                    continue;
                }
                // A slack band is not mended by a number; and what never hinders, never will.
                Bind::Start { .. } | Bind::NoMoment | Bind::NothingOwned => continue,
            }
            // What lacked more than one thing, as no setting of it had the wanted load, may lack another yet.
            let within = mended.stance_mm.1 <= 10_000 && mended.wanted.start_mn_min >= 1
                && mended.wanted.step.is_none_or(|step| step.mpct_max <= 100_000)
                && mended.bands[0].0.elongation_max_mpct <= mended.bands[0].0.curve.last_elongation_mpct();
            if within {
                let again = mended.bind(0, refusal.strands);
                prop_assert_ne!(again, Some(refusal.bind));
            }
        }
    }
}

/// What the documentation of a fit promises, by its profile.
fn keeps_its_promises(question: &Question, fit: &Fit) {
    let wanted = &question.wanted;
    let of = &question.bands[fit.setting.band].0;
    let pull = Pull::new(&question.motion, &body(), of, &fit.setting, wanted.arc).unwrap();
    assert_eq!(fit.summary, pull.summary().unwrap());
    assert_eq!(fit.at, pull.point(wanted.at_mdeg).unwrap());
    assert!(fit.load_mnm <= wanted.torque_mnm);
    assert!(fit.summary.start_mn >= wanted.start_mn_min);
    assert!(fit.summary.elongation_mpct <= of.safe_mpct());
    match question.motion.varies() {
        Varies::Stance => {
            let stance_mm = fit.setting.stance_mm;
            assert!((question.stance_mm.0..=question.stance_mm.1).contains(&stance_mm));
            assert_eq!(stance_mm % 10, 0);
        }
        Varies::WorkingLength => {
            assert_eq!(
                (fit.setting.stance_mm, fit.setting.working_length_mm % 10),
                (0, 0)
            );
            assert!(fit.setting.working_length_mm >= question.working_length_mm_min);
        }
    }
    assert_eq!(fit.change_mpct.is_some(), wanted.step.is_some());
    if let (Some(step), Some(change_mpct)) = (wanted.step, fit.change_mpct) {
        assert!(change_mpct <= step.mpct_max && change_mpct >= step.mpct_min);
        assert!(fit.load_mnm > step.last_mnm);
    }
}
