//! Volumes: measures worked out of the sets of an exercise, and their change from week to week.
//!
//! Leaves to others: how a sentence reads them (`rungwise-engine`).

use super::combined::percent;
use super::measures::measures;
use super::resolve::{Build, Site, Sites};
use super::uses::{leaves, uses};
use crate::diagnostic::{Code, Findings, Note};
use crate::model::{
    CHANGE_MAX, Carrier, Combined, Computed, Exercise, ExerciseIx, Measure, MeasureIx, MeasureKind,
    Origin, Over, Pack, Sentence, Subject, TORQUE, VOLUME_MAX, Worse,
};
use crate::quantity::{Milli, Unit, Variable};
use crate::read::draft::{CombinedDraft, MeasureDraft, PartsDraft};
use crate::source::LocatedText;
use crate::unit;

impl Build<'_, '_> {
    /// A volume, or the change of one; none where the draft is of something else, or wrong.
    pub(super) fn volume(
        &mut self,
        draft: &MeasureDraft,
        combined: &CombinedDraft,
        drafts: &[MeasureDraft],
    ) -> Option<Measure> {
        let (unit, origin, worse) = match &combined.parts {
            PartsDraft::VolumeLoad => {
                let unit = self.load_unit(&draft.name, combined)?;
                (unit, Origin::Combined(Combined::VolumeLoad), Worse::Neither)
            }
            PartsDraft::TimeUnderTension => {
                let unit = self.own_unit(&draft.name, combined, unit::find("s")?);
                let origin = Origin::Combined(Combined::TimeUnderTension);
                (unit, origin, Worse::Neither)
            }
            PartsDraft::WeekOnWeek { of, in_total } => {
                let of = self.volume_named(of, drafts)?;
                let in_total = *in_total;
                let unit = self.own_unit(&draft.name, combined, percent());
                let origin = Origin::Computed(Computed::WeekOnWeek { of, in_total });
                (unit, origin, Worse::Higher)
            }
            _ => return None,
        };
        self.directed(&draft.name, worse, combined.worse.as_ref());
        let of_sets = matches!(origin, Origin::Combined(_));
        let (min, max) = if of_sets {
            (0, VOLUME_MAX)
        } else {
            (-100, CHANGE_MAX)
        };
        Some(Measure {
            kind: MeasureKind::Number {
                unit,
                min: Milli::whole(min),
                max: Milli::whole(max),
                step: Milli(1),
            },
            worse,
            origin,
            carrier: if of_sets {
                Carrier::Exercise
            } else {
                Carrier::Nothing
            },
            expected: of_sets,
            ratio: of_sets,
            ..draft.measure.clone()
        })
    }

    /// The unit of a volume load, which must be written: there are loads in two.
    fn load_unit(&mut self, name: &LocatedText, combined: &CombinedDraft) -> Option<Unit> {
        let help = format!("`{TORQUE}` for loads of bands, `N` for loads in numbers");
        let Some(given) = &combined.unit else {
            let message = format!("`{}` has no `unit`", name.text);
            self.findings
                .add(Note::new(Code::MissingKey, name.at, message).help(help));
            return None;
        };
        let code: &str = &given.value.code;
        if code != TORQUE && Variable::Load.unit() != Some(code) {
            let message = format!("no load is in `{code}`");
            self.findings
                .add(Note::new(Code::UnknownUnit, given.at, message).help(help));
            return None;
        }
        Some(given.value.clone())
    }

    fn own_unit(&mut self, name: &LocatedText, combined: &CombinedDraft, own: Unit) -> Unit {
        if let Some(given) = &combined.unit
            && !unit::same(&given.value, &own)
        {
            self.other_unit(name, given, &own.code);
        }
        own
    }

    /// The volume that a change is of.
    fn volume_named(&mut self, of: &LocatedText, drafts: &[MeasureDraft]) -> Option<MeasureIx> {
        let ix = self.known.measure(of, self.findings)?;
        let parts = drafts
            .get(ix.at())
            .and_then(|draft| draft.combined.as_ref());
        let is_volume = parts.is_some_and(|combined| {
            matches!(
                combined.parts,
                PartsDraft::VolumeLoad | PartsDraft::TimeUnderTension
            )
        });
        if !is_volume {
            let message = format!("`{}` is no volume of an exercise", of.text);
            let help = "name a measure computed as `volume load` or `time under tension`";
            self.wrong(of.at, message, help);
            return None;
        }
        Some(ix)
    }
}

/// What a measure reads the sets for, where it is one of these.
fn volume_of<'p>(pack: &'p Pack, measure: &'p Measure) -> Option<&'p Measure> {
    match &measure.origin {
        Origin::Combined(combined) if combined.is_volume() => Some(measure),
        Origin::Computed(Computed::WeekOnWeek { of, .. }) => pack.measures.get(of.at()),
        _ => None,
    }
}

/// What an exercise's ladder has instead of a volume; none where it has one.
fn lacks(volume: &Measure, exercise: &Exercise) -> Option<String> {
    let MeasureKind::Number { unit, .. } = &volume.kind else {
        return None;
    };
    if matches!(volume.origin, Origin::Combined(Combined::VolumeLoad)) {
        let code = &unit.code;
        (exercise.load_unit() != Some(code)).then(|| format!("no loads in `{code}`"))
    } else {
        (!exercise.is_timed())
            .then(|| "no hold time, and no tempo of so many `seconds` a repetition".to_owned())
    }
}

/// Reports volumes that no exercise has, and sentences on those of an exercise that has none.
pub(super) fn judge(pack: &Pack, sites: &Sites, findings: &mut Findings<'_>) {
    for (measure, at) in pack.measures.iter().zip(&sites.measures) {
        let Some(volume) = volume_of(pack, measure) else {
            continue;
        };
        let mut exercises = pack.exercises.iter();
        if !exercises.any(|exercise| lacks(volume, exercise).is_none()) {
            let message = format!("no exercise has a `{}`", measure.name);
            let note = Note::new(Code::NoVolume, *at, message);
            let why = pack.exercises.first();
            let why = why.and_then(|exercise| lacks(volume, exercise));
            findings.add(note.label(format!("every ladder has {}", why.unwrap_or_default())));
        }
    }
    for one in uses(pack) {
        for (index, _) in leaves(one.criterion) {
            let sentence = pack.sentences.get(index.at());
            let site = sites.sentences.get(index.at());
            if let Some((sentence, site)) = sentence.zip(site) {
                of_exercise(pack, sentence, site, one.exercise, findings);
            }
        }
    }
}

fn of_exercise(
    pack: &Pack,
    sentence: &Sentence,
    site: &Site,
    own: Option<ExerciseIx>,
    findings: &mut Findings<'_>,
) {
    let Subject::Measure { over, .. } = &sentence.subject else {
        return;
    };
    let exercise = match over {
        Over::Of(exercise) => Some(*exercise),
        Over::Plain => own,
        Over::AnyExercise | Over::EveryExercise | Over::AtLeastExercises(_) => None,
    };
    let Some(exercise) = exercise.and_then(|ix| pack.exercises.get(ix.at())) else {
        return;
    };
    for ix in measures(sentence) {
        let Some(measure) = pack.measures.get(ix.at()) else {
            continue;
        };
        let why = volume_of(pack, measure).and_then(|volume| lacks(volume, exercise));
        if let Some(why) = why {
            let message = format!("`{}` has no `{}`", exercise.key, measure.name);
            let at = site.text.part(&site.parts.subject);
            let note = Note::new(Code::NoVolume, at, message);
            findings.add(note.label(format!("its ladder has {why}")));
        }
    }
}
