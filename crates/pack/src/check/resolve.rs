//! From a draft to a pack: names become indexes, sentences are parsed.
//!
//! Leaves to others: whether what each says makes sense.

use super::names::{Known, Taken, find};
use super::texts::Texts;
use crate::diagnostic::{Code, Findings, Note};
use crate::model::{
    Criterion, Defined, ExerciseIx, LayOffRow, Limit, Measure, Origin, Pack, Phase, PhaseIx, Rule,
    RuleIx, Screening, Sentence, SentenceIx,
};
use crate::quantity::Key;
use crate::read::draft::{
    CriterionDraft, GroundsDraft, LayOffDraft, LimitDraft, MeasureDraft, PackDraft, PhaseDraft,
    RuleDraft,
};
use crate::read::sentence::{Names, Parsed, Parts, parse};
use crate::source::{LocatedText, Location};

/// Where a sentence stands, and each of its parts.
#[derive(Clone, Debug)]
pub(crate) struct Site {
    pub(crate) text: LocatedText,
    pub(crate) parts: Parts,
}

/// Places of what the pack's lists hold, for diagnostics.
#[derive(Clone, Debug, Default)]
pub(crate) struct Sites {
    /// By [`SentenceIx`].
    pub(crate) sentences: Vec<Site>,
    /// By [`RuleIx`].
    pub(crate) rules: Vec<Location>,
    /// By [`PhaseIx`].
    pub(crate) phases: Vec<Location>,
    /// By [`ExerciseIx`].
    pub(crate) exercises: Vec<Location>,
    /// By measure.
    pub(super) measures: Vec<Location>,
    /// Days and steps of each row of the lay-off table.
    pub(crate) lay_off: Vec<[Location; 2]>,
}

/// What is being built, and what it is built with.
pub(super) struct Build<'b, 'f> {
    pub(super) findings: &'b mut Findings<'f>,
    pub(super) known: Known,
    pub(super) texts: Texts,
    pub(super) sites: Sites,
    pub(super) measures: Vec<Measure>,
    sentences: Vec<Sentence>,
    rules: Vec<Rule>,
    /// By exercise: whether any phase lists it.
    pub(super) listed: Vec<bool>,
}

/// Resolves a draft. None only where `pack.toml` could not be read at all.
pub(super) fn resolve(
    draft: PackDraft,
    digest: [u8; 32],
    findings: &mut Findings<'_>,
) -> Option<(Pack, Sites)> {
    let known = Known::gather(&draft, findings);
    let texts = Texts::gather(&draft, findings);
    let PackDraft {
        head,
        measures,
        refers,
        phases,
        lines,
        ..
    } = draft;
    let head = head?;
    let mut build = Build {
        findings,
        known,
        texts,
        sites: Sites::default(),
        measures: measures.iter().map(|draft| draft.measure.clone()).collect(),
        sentences: Vec::new(),
        rules: Vec::new(),
        listed: Vec::new(),
    };
    build.combine(&measures);
    build.define(&measures);
    let height = build.height(head.height.as_ref());
    let cautions = head.cautions.iter().map(|key| build.text(key)).collect();
    let screening = refers
        .iter()
        .map(|refer| Screening {
            rule: build.rule(&refer.rule, None, None),
            urgency: refer.urgency,
            route: refer.route.clone(),
            of_person: refer.of_person,
        })
        .collect();
    for rule in &head.rules {
        build.rule(rule, None, None);
    }
    let limits = build.limits(&head.limits);
    let lay_off = build.lay_off(&head.lay_off);
    let phases = build.phases(&phases);
    let (lines, exercises) = build.lines(&lines);
    build.known.unused_sources(build.findings);
    let texts = build.texts.finish(build.findings);
    let pack = Pack {
        digest,
        id: head.id.into(),
        version: head.version.into(),
        title: head.title,
        scope: head.scope,
        cautions,
        sources: head
            .sources
            .into_iter()
            .map(|(key, text)| (key.into(), text.value))
            .collect(),
        sign_off: head.sign_off,
        lay_off,
        review_days: head.review_days,
        measures: build.measures,
        height,
        events: build.known.events,
        sentences: build.sentences,
        rules: build.rules,
        screening,
        limits,
        phases,
        lines,
        exercises,
        texts,
        language: head
            .language
            .map_or_else(|| Key::from(""), |language| language.text.into()),
    };
    Some((pack, build.sites))
}

impl Build<'_, '_> {
    /// Fills in what defined and computed measures are worked out from.
    fn define(&mut self, drafts: &[MeasureDraft]) {
        for (draft, index) in drafts.iter().zip(0_usize..) {
            self.sites.measures.push(draft.name.at);
            if let Some(event) = &draft.event {
                find(&self.known.events, event, "an event", self.findings);
            }
            let Some(grounds) = &draft.grounds else {
                continue;
            };
            let vouched = self.known.vouch(grounds, self.findings);
            let Some(features) = &draft.features else {
                continue;
            };
            let grounds = GroundsDraft {
                grounds: vouched,
                at: grounds.at,
            };
            let features = features
                .iter()
                .map(|(choice, criterion)| (*choice, self.criterion(criterion, &grounds)))
                .collect();
            if let Some(measure) = self.measures.get_mut(index) {
                measure.origin = Origin::Defined(Defined { features });
            }
        }
    }

    /// A text key that every language must have.
    pub(super) fn text(&mut self, key: &LocatedText) -> Key {
        self.texts.need(&key.text, key.at, self.findings);
        key.text.as_str().into()
    }

    /// Adds a rule.
    pub(super) fn rule(
        &mut self,
        draft: &RuleDraft,
        phase: Option<PhaseIx>,
        exercise: Option<ExerciseIx>,
    ) -> RuleIx {
        let grounds = self.known.vouch(&draft.grounds, self.findings);
        let grounds = GroundsDraft {
            grounds,
            at: draft.grounds.at,
        };
        let when = match &draft.when {
            Some(when) => self.criterion(when, &grounds),
            None => Criterion::All(Vec::new()),
        };
        let index = RuleIx(u16::try_from(self.rules.len()).unwrap_or(u16::MAX));
        self.sites.rules.push(draft.key.at);
        self.rules.push(Rule {
            key: draft.key.text.as_str().into(),
            kind: draft.kind,
            when,
            reason: draft.reason.clone(),
            phase,
            exercise,
        });
        index
    }

    pub(super) fn criterion(
        &mut self,
        draft: &CriterionDraft,
        grounds: &GroundsDraft,
    ) -> Criterion {
        match draft {
            // A sentence that was not understood is reported, and stands for nothing in what is judged further.
            CriterionDraft::Sentence(text) => self
                .sentence(text, grounds)
                .map_or_else(|| Criterion::All(Vec::new()), Criterion::Sentence),
            CriterionDraft::All(parts) => Criterion::All(self.criteria(parts, grounds)),
            CriterionDraft::Any(parts) => Criterion::Any(self.criteria(parts, grounds)),
            CriterionDraft::None(parts) => Criterion::None(self.criteria(parts, grounds)),
        }
    }

    fn criteria(&mut self, parts: &[CriterionDraft], grounds: &GroundsDraft) -> Vec<Criterion> {
        parts
            .iter()
            .map(|part| self.criterion(part, grounds))
            .collect()
    }

    /// Parses a sentence and adds it.
    fn sentence(&mut self, text: &LocatedText, grounds: &GroundsDraft) -> Option<SentenceIx> {
        let names = Names {
            measures: &self.measures,
            exercises: &self.known.exercises,
        };
        let Parsed {
            subject,
            relation,
            window,
            parts,
        } = match parse(&text.text, names) {
            Ok(parsed) => parsed,
            Err(error) => {
                // What is wrong with a measure is said where it is declared.
                if !self.known.speaks_of_unread(&text.text) {
                    self.findings.add(error.note(text));
                }
                return None;
            }
        };
        let index = u16::try_from(self.sentences.len()).ok()?;
        self.sentences.push(Sentence {
            text: text.text.clone(),
            subject,
            relation,
            window,
            grounds: grounds.grounds.clone(),
        });
        self.sites.sentences.push(Site {
            text: text.clone(),
            parts,
        });
        Some(SentenceIx(index))
    }

    pub(super) fn limits(&mut self, drafts: &[LimitDraft]) -> Vec<Limit> {
        let mut limits = Vec::new();
        for draft in drafts {
            let grounds = self.known.vouch(&draft.grounds, self.findings);
            let grounds = GroundsDraft {
                grounds,
                at: draft.grounds.at,
            };
            let sentence = draft
                .sentence
                .as_ref()
                .and_then(|text| self.sentence(text, &grounds));
            let condition = draft
                .condition
                .as_ref()
                .map(|condition| self.criterion(condition, &grounds));
            let text = draft.text.as_ref().map(|text| self.text(text));
            if let (Some(sentence), Some(text)) = (sentence, text) {
                limits.push(Limit {
                    key: draft.key.text.as_str().into(),
                    sentence,
                    condition,
                    text,
                });
            }
        }
        limits
    }

    fn phases(&mut self, drafts: &[PhaseDraft]) -> Vec<Phase> {
        let mut phases = Vec::new();
        let mut listed = vec![false; self.known.exercises.len()];
        for (draft, index) in drafts.iter().zip(0..) {
            let mut taken = Taken::new("an exercise of this phase");
            let mut exercises = Vec::new();
            for name in &draft.exercises {
                taken.take(name, self.findings);
                if let Some(at) = find(&self.known.exercises, name, "an exercise", self.findings) {
                    if let Some(listed) = listed.get_mut(at) {
                        *listed = true;
                    }
                    exercises.push(ExerciseIx(u16::try_from(at).unwrap_or(u16::MAX)));
                }
            }
            let limits = self.limits(&draft.limits);
            self.sites.phases.push(draft.key.at);
            let rules = draft
                .rules
                .iter()
                .map(|rule| self.rule(rule, Some(PhaseIx(index)), None))
                .collect();
            phases.push(Phase {
                key: draft.key.text.as_str().into(),
                aim: draft.aim.clone(),
                exercises,
                sessions_a_week: draft.sessions_a_week,
                climb_max: draft.climb_max,
                introduce_max: draft.introduce_max,
                lines_max: draft.lines_max,
                limits,
                rules,
            });
        }
        self.listed = listed;
        phases
    }

    fn lay_off(&mut self, drafts: &[LayOffDraft]) -> Vec<LayOffRow> {
        lay_off_order(drafts, self.findings);
        self.sites.lay_off = drafts.iter().map(|row| row.numbers).collect();
        let rows = drafts.iter().map(|row| LayOffRow {
            days: row.days,
            steps: row.steps,
            review: row.review,
            grounds: self.known.vouch(&row.grounds, self.findings),
        });
        rows.collect()
    }
}

/// Longer gaps stand later and never give less.
fn lay_off_order(rows: &[LayOffDraft], findings: &mut Findings<'_>) {
    for (before, row) in rows.iter().zip(rows.iter().skip(1)) {
        if row.days <= before.days {
            let message = format!("{} days stand after {} days", row.days, before.days);
            findings.add(Note::new(Code::LayOffOrder, row.at, message).label("shortest gap first"));
        } else if row.steps < before.steps {
            let message = format!(
                "a longer gap gives {} steps after {}",
                row.steps, before.steps
            );
            findings.add(
                Note::new(Code::LayOffOrder, row.at, message)
                    .label("steps are in all, so they never shrink"),
            );
        }
    }
}
