//! Measures worked out from other values of the same fact: their parts looked up, and whether these go together.
//!
//! Leaves to others: means (`mean`), volumes (`volume`), sentences about them (`types`, `forms`, `bounds`).

use super::resolve::Build;
use crate::diagnostic::{Code, Note};
use crate::model::{
    Carrier, Combined, Measure, MeasureIx, MeasureKind, Method, Origin, Pack, QUOTIENT_MAX, ToldAs,
    Worse,
};
use crate::quantity::{Dimension, Milli, Unit};
use crate::read::draft::{CombinedDraft, MeasureDraft, PartsDraft};
use crate::source::{At, LocatedText, Location};
use crate::unit;

/// A part: its index, and where it is named.
#[derive(Clone, Copy)]
pub(super) struct Part {
    pub(super) ix: MeasureIx,
    pub(super) at: Location,
}

/// What a combined measure comes to: its recipe, unit, range, and direction.
pub(super) struct Worked {
    pub(super) combined: Combined,
    pub(super) unit: Unit,
    pub(super) min: Milli,
    pub(super) max: Milli,
    pub(super) worse: Worse,
    pub(super) ratio: bool,
}

impl Build<'_, '_> {
    /// Fills in every combined measure.
    pub(super) fn combine(&mut self, drafts: &[MeasureDraft]) {
        for (draft, index) in drafts.iter().zip(0_usize..) {
            let Some(combined) = &draft.combined else {
                continue;
            };
            if let Some(measure) = self.volume(draft, combined, drafts) {
                if let Some(known) = self.measures.get_mut(index) {
                    *known = measure;
                }
                continue;
            }
            let Some((worked, parts)) = self.worked(&draft.name, combined) else {
                continue;
            };
            let of: Vec<&Measure> = parts.iter().filter_map(|part| self.part(*part)).collect();
            let carrier = of.first().map_or(Carrier::Nothing, |part| part.carrier);
            let expected = of.iter().any(|part| part.expected);
            let fresh_days = of.iter().filter_map(|part| part.fresh_days).min();
            if let Some(measure) = self.measures.get_mut(index) {
                *measure = Measure {
                    kind: MeasureKind::Number {
                        unit: worked.unit,
                        min: worked.min,
                        max: worked.max,
                        step: Milli(1),
                    },
                    worse: worked.worse,
                    origin: Origin::Combined(worked.combined),
                    carrier,
                    expected,
                    ratio: worked.ratio,
                    fresh_days,
                    ..measure.clone()
                };
            }
        }
    }

    pub(super) fn part(&self, part: Part) -> Option<&Measure> {
        self.measures.get(part.ix.at())
    }

    pub(super) fn wrong(&mut self, at: Location, message: String, help: &str) {
        self.findings
            .add(Note::new(Code::Parts, at, message).help(help.to_owned()));
    }

    /// Looks up a part, which must be a reported number.
    pub(super) fn find_part(&mut self, name: &LocatedText) -> Option<Part> {
        let ix = self.known.measure(name, self.findings)?;
        let part = Part { ix, at: name.at };
        self.is_number(part, &name.text).then_some(part)
    }

    pub(super) fn is_number(&mut self, part: Part, name: &str) -> bool {
        let fits = self.part(part).is_some_and(|measure| {
            matches!(measure.origin, Origin::Reported)
                && matches!(measure.kind, MeasureKind::Number { .. })
                && measure.carrier != Carrier::Nothing
        });
        if !fits {
            let message = format!("`{name}` is not a number that somebody reports");
            self.wrong(part.at, message, "name a measure with `unit` and `carrier`");
        }
        fits
    }

    fn worked(&mut self, name: &LocatedText, draft: &CombinedDraft) -> Option<(Worked, Vec<Part>)> {
        let (worked, parts) = match &draft.parts {
            PartsDraft::Maximum {
                method,
                load,
                repetitions,
                in_reserve,
                repetitions_max,
            } => {
                let others = [repetitions, in_reserve].map(Option::as_ref);
                self.maximum(name, *method, load, others, *repetitions_max)?
            }
            PartsDraft::OtherSide { of } => self.other_side(of)?,
            PartsDraft::Ratio { of, to, method } => self.ratio(of, to, method)?,
            PartsDraft::VolumeLoad
            | PartsDraft::TimeUnderTension
            | PartsDraft::WeekOnWeek { .. } => return None,
            PartsDraft::Mean {
                items,
                by_scale,
                percent,
                answered_min,
            } => {
                let (scales, parts) = self.scales(items, *by_scale)?;
                let turned = draft.worse.as_ref().map(|worse| worse.value);
                self.mean(scales, &parts, *percent, turned, answered_min)
                    .zip(Some(parts))?
            }
        };
        self.directed(name, worked.worse, draft.worse.as_ref());
        let worked = self.in_unit(name, worked, draft.unit.as_ref());
        Some((worked, parts))
    }

    /// All parts are carried by one kind of fact, which is one of `allowed`.
    pub(super) fn carried(&mut self, parts: &[Part], allowed: &[Carrier]) -> bool {
        let first = parts.first().and_then(|part| self.part(*part));
        let Some(carrier) = first.map(|first| first.carrier) else {
            return false;
        };
        for part in parts {
            let Some(measure) = self.part(*part) else {
                return false;
            };
            if measure.carrier != carrier || !allowed.contains(&carrier) {
                let message = format!("`{}` is not told by the same fact", measure.name);
                let help = if allowed.len() > 1 {
                    "all parts belong to an assessment, or all to an exercise"
                } else {
                    "all parts belong to an assessment"
                };
                self.wrong(part.at, message, help);
                return false;
            }
        }
        true
    }

    /// All parts have one worse direction.
    pub(super) fn agreed(&mut self, parts: &[Part]) -> Option<Worse> {
        let worse = self.part(*parts.first()?)?.worse;
        for part in parts {
            let measure = self.part(*part)?;
            if measure.worse != worse {
                let message = format!(
                    "`{}` does not get worse in the direction of the other parts",
                    measure.name
                );
                self.wrong(part.at, message, "give all parts the same `worse`");
                return None;
            }
        }
        Some(worse)
    }

    fn maximum(
        &mut self,
        name: &LocatedText,
        method: Method,
        load: &LocatedText,
        others: [Option<&LocatedText>; 2],
        most: u32,
    ) -> Option<(Worked, Vec<Part>)> {
        let load = self.find_part(load);
        let found = others.map(|name| name.map(|name| self.find_part(name)));
        let load = load?;
        let [repetitions, in_reserve] = match found {
            [Some(None), _] | [_, Some(None)] => return None,
            found => found.map(Option::flatten),
        };
        let counts: Vec<Part> = [repetitions, in_reserve].into_iter().flatten().collect();
        let parts: Vec<Part> = std::iter::once(load)
            .chain(counts.iter().copied())
            .collect();
        if !self.carried(&parts, &[Carrier::Assessment, Carrier::Exercise]) {
            return None;
        }
        let (unit, max, ratio, carrier) = {
            let measure = self.part(load)?;
            let MeasureKind::Number { unit, max, .. } = &measure.kind else {
                return None;
            };
            (unit.clone(), *max, measure.ratio, measure.carrier)
        };
        if repetitions.is_none() && carrier != Carrier::Exercise {
            let note = Note::new(
                Code::MissingKey,
                name.at,
                format!("`{}` has no `repetitions`", name.text),
            );
            self.findings
                .add(note.help("name the measure that says how often the load was lifted"));
            return None;
        }
        for part in counts {
            let count = self.part(part).is_some_and(|measure| {
                matches!(&measure.kind, MeasureKind::Number { unit, min, .. }
                    if unit.dimension == Dimension::One && *min >= Milli(0))
            });
            if !count {
                let message = "repetitions are counted from 0".to_owned();
                self.wrong(
                    part.at,
                    message,
                    "name a measure in `{reps}` with `min = 0`",
                );
                return None;
            }
        }
        if !ratio {
            self.no_zero(load);
            return None;
        }
        let worse = self.agreed(&parts)?;
        let max = most_estimated(method, max, most);
        let combined = Combined::Maximum {
            method,
            load: load.ix,
            repetitions: repetitions.map(|part| part.ix),
            in_reserve: in_reserve.map(|part| part.ix),
            repetitions_max: most,
        };
        let worked = Worked {
            combined,
            unit,
            min: Milli(0),
            max,
            worse,
            ratio: true,
        };
        Some((worked, parts))
    }

    fn no_zero(&mut self, part: Part) {
        let name = self.part(part).map(|measure| measure.name.clone());
        let message = format!("`{}` has no true zero", name.as_deref().unwrap_or_default());
        self.wrong(
            part.at,
            message,
            "`ratio = true` in its table says that it has one",
        );
    }

    fn other_side(&mut self, of: &LocatedText) -> Option<(Worked, Vec<Part>)> {
        let of = self.find_part(of)?;
        let measure = self.part(of)?;
        let (both_sides, ratio, worse) = (measure.both_sides, measure.ratio, measure.worse);
        if !both_sides {
            let message = format!("the other side is not reported for `{}`", measure.name);
            self.wrong(
                of.at,
                message,
                "`both_sides = true` in its table says that it is",
            );
            return None;
        }
        if !ratio {
            self.no_zero(of);
            return None;
        }
        let worked = Worked {
            combined: Combined::OtherSide { of: of.ix },
            unit: percent(),
            min: Milli(0),
            max: Milli::whole(100 * QUOTIENT_MAX),
            worse,
            ratio: false,
        };
        Some((worked, vec![of]))
    }

    fn ratio(
        &mut self,
        of: &LocatedText,
        to: &LocatedText,
        method: &crate::quantity::Key,
    ) -> Option<(Worked, Vec<Part>)> {
        let (of, to) = (self.find_part(of), self.find_part(to));
        let parts = vec![of?, to?];
        if !self.carried(&parts, &[Carrier::Assessment]) {
            return None;
        }
        let [of, to] = [of?, to?];
        for part in [of, to] {
            if self.part(part).is_some_and(|measure| !measure.ratio) {
                self.no_zero(part);
                return None;
            }
        }
        let same = self.unit_of(of).zip(self.unit_of(to));
        if of.ix == to.ix || !same.is_some_and(|(one, two)| unit::same(&one, &two)) {
            let message = "a ratio is of two measures in one unit".to_owned();
            self.wrong(to.at, message, "values are never converted");
            return None;
        }
        let worse = self.part(of)?.worse;
        let combined = Combined::Ratio {
            of: of.ix,
            to: to.ix,
            method: method.clone(),
        };
        let worked = Worked {
            combined,
            unit: one(),
            min: Milli(0),
            max: Milli::whole(QUOTIENT_MAX),
            worse,
            ratio: false,
        };
        Some((worked, parts))
    }

    fn unit_of(&self, part: Part) -> Option<Unit> {
        match &self.part(part)?.kind {
            MeasureKind::Number { unit, .. } => Some(unit.clone()),
            MeasureKind::Choice { .. } => None,
        }
    }

    /// A direction that is written must be the one that the parts give.
    pub(super) fn directed(
        &mut self,
        name: &LocatedText,
        worked: Worse,
        given: Option<&At<Worse>>,
    ) {
        let Some(given) = given.filter(|given| given.value != worked) else {
            return;
        };
        let message = format!("the parts of `{}` get worse otherwise", name.text);
        self.wrong(given.at, message, "leave `worse` out: its parts say it");
    }

    /// The unit that is written, where it goes with the parts'.
    fn in_unit(&mut self, name: &LocatedText, worked: Worked, given: Option<&At<Unit>>) -> Worked {
        let Some(given) = given else { return worked };
        let score = matches!(
            worked.combined,
            Combined::Mean {
                told_as: ToldAs::Percent | ToldAs::PercentTurned,
                ..
            }
        ) && given.value.dimension == Dimension::One;
        if score || unit::same(&given.value, &worked.unit) {
            return Worked {
                unit: given.value.clone(),
                ..worked
            };
        }
        self.other_unit(name, given, &worked.unit.code);
        worked
    }

    /// Reports a unit that is not the measure's own.
    pub(super) fn other_unit(&mut self, name: &LocatedText, given: &At<Unit>, own: &str) {
        let message = format!(
            "`{}` comes in `{own}`, not in `{}`",
            name.text, given.value.code
        );
        let note = Note::new(Code::UnknownUnit, given.at, message);
        self.findings.add(
            note.help(format!("write `unit = \"{own}\"`"))
                .replace(format!("\"{own}\"")),
        );
    }
}

pub(super) fn percent() -> Unit {
    Unit {
        code: "%".into(),
        dimension: Dimension::Percent,
    }
}

fn one() -> Unit {
    Unit {
        code: "1".into(),
        dimension: Dimension::One,
    }
}

/// What the largest load comes to with the most repetitions, rounded up.
fn most_estimated(method: Method, load: Milli, repetitions: u32) -> Milli {
    let (load, repetitions) = (i128::from(load.0), i128::from(repetitions));
    let (number, of) = match method {
        Method::Epley if repetitions < 2 => (load, 1),
        Method::Epley => (load.saturating_mul(30 + repetitions), 30),
        Method::Brzycki => (load.saturating_mul(36), (37 - repetitions).max(1)),
    };
    let up = number.saturating_add(of - 1) / of;
    Milli(i64::try_from(up).unwrap_or(i64::MAX / 4))
}

/// The first of these measures that is worked out of what is reported of an exercise: a session cannot be looked at for
/// whether it carries that.
pub(super) fn read_of_exercises(
    pack: &Pack,
    mut read: impl Iterator<Item = MeasureIx>,
) -> Option<MeasureIx> {
    read.find(|ix| {
        pack.measures.get(ix.at()).is_some_and(|measure| {
            measure.carrier == Carrier::Exercise && matches!(measure.origin, Origin::Combined(_))
        })
    })
}
