//! Means of items: which items, and whether they go together.
//!
//! Leaves to others: the other recipes (`combined`).

use super::combined::{Part, Worked, percent};
use super::resolve::Build;
use crate::diagnostic::{Code, Note};
use crate::model::{Carrier, Combined, MeasureIx, MeasureKind, ToldAs, Worse};
use crate::quantity::{Milli, Unit};
use crate::read::combined::PARTS_MAX;
use crate::source::{At, LocatedText};
use crate::unit;

impl Build<'_, '_> {
    /// The items of each scale (of one, where not `by_scale`), and all of them.
    pub(super) fn scales(
        &mut self,
        names: &[LocatedText],
        by_scale: bool,
    ) -> Option<(Vec<Vec<MeasureIx>>, Vec<Part>)> {
        let mut scales: Vec<Vec<MeasureIx>> = Vec::new();
        let mut parts: Vec<Part> = Vec::new();
        for name in names {
            let found: Vec<Part> = match self.known.numbered(&name.text) {
                Some(all) => {
                    let all = all.iter().map(|ix| Part {
                        ix: *ix,
                        at: name.at,
                    });
                    all.collect()
                }
                None => vec![self.find_part(name)?],
            };
            for part in &found {
                if !self.is_number(*part, &name.text) {
                    return None;
                }
                if parts.iter().any(|other| other.ix == part.ix) {
                    let message = format!("`{}` is counted twice", name.text);
                    self.findings.add(Note::new(Code::Twice, name.at, message));
                    return None;
                }
                parts.push(*part);
            }
            let found = found.iter().map(|part| part.ix);
            match scales.last_mut() {
                Some(scale) if !by_scale => scale.extend(found),
                _ => scales.push(found.collect()),
            }
        }
        if parts.len() > PARTS_MAX as usize {
            let at = names.last().map(|name| name.at)?;
            let message = format!("a mean of {} items", parts.len());
            let note = Note::new(Code::TooMany, at, message);
            self.findings
                .add(note.label(format!("at most {PARTS_MAX}")));
            return None;
        }
        (!parts.is_empty()).then_some((scales, parts))
    }

    pub(super) fn mean(
        &mut self,
        scales: Vec<Vec<MeasureIx>>,
        parts: &[Part],
        in_percent: bool,
        wanted: Option<Worse>,
        answered_min: &At<u32>,
    ) -> Option<Worked> {
        if !self.carried(parts, &[Carrier::Assessment]) {
            return None;
        }
        let items = self.agreed(parts)?;
        let (unit, min, max, ratio) = self.one_range(parts)?;
        let count = u32::try_from(parts.len()).unwrap_or(u32::MAX);
        if answered_min.value > count {
            let message = format!("{} answers are wanted of {count} items", answered_min.value);
            let note = Note::new(Code::OutOfBounds, answered_min.at, message);
            self.findings.add(note.label(format!("at most {count}")));
            return None;
        }
        // What the rule of a score lets lack cannot at the same time be missing.
        if answered_min.value < count {
            for part in parts {
                let expected = self.part(*part).filter(|measure| measure.expected);
                if let Some(name) = expected.map(|measure| measure.name.clone()) {
                    let message = format!("`{name}` is expected, and the score does without it");
                    self.wrong(
                        part.at,
                        message,
                        "let it be `expected = false`, or want every item answered",
                    );
                    return None;
                }
            }
        }
        let turned = in_percent
            && matches!(
                (items, wanted),
                (Worse::Higher, Some(Worse::Lower)) | (Worse::Lower, Some(Worse::Higher))
            );
        let (told_as, worse) = match (in_percent, turned) {
            (false, _) => (ToldAs::ItsOwn, items),
            (true, false) => (ToldAs::Percent, items),
            (true, true) => (ToldAs::PercentTurned, wanted.unwrap_or(items)),
        };
        let (unit, min, max) = if in_percent {
            (percent(), Milli(0), Milli::whole(100))
        } else {
            (unit, min, max)
        };
        let combined = Combined::Mean {
            scales,
            answered_min: answered_min.value,
            told_as,
        };
        Some(Worked {
            combined,
            unit,
            min,
            max,
            worse,
            ratio: ratio && !turned,
        })
    }

    /// The unit and the range that all items share, and whether they have a true zero.
    fn one_range(&mut self, parts: &[Part]) -> Option<(Unit, Milli, Milli, bool)> {
        let mut shared: Option<(Unit, Milli, Milli)> = None;
        let mut ratio = true;
        for part in parts {
            let measure = self.part(*part)?;
            let MeasureKind::Number { unit, min, max, .. } = &measure.kind else {
                return None;
            };
            ratio &= measure.ratio;
            match &shared {
                None => shared = Some((unit.clone(), *min, *max)),
                Some((of, from, to)) => {
                    if !unit::same(of, unit) || from != min || to != max {
                        let message = format!(
                            "`{}` goes from {min} to {max} {}, the first item from {from} to {to} {}",
                            measure.name, unit.code, of.code
                        );
                        self.wrong(part.at, message, "items of one mean have one range");
                        return None;
                    }
                }
            }
        }
        shared.map(|(unit, min, max)| (unit, min, max, ratio))
    }
}
