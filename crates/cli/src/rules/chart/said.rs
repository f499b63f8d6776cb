//! What a chart says of a pack, in the pack's own words and in the order in which it is read aloud: phases, what holds in all
//! of them, who is sent to a doctor, and the lines with their ladders.
//!
//! Leaves to others: how it is set on a screen (`text`) or on a sheet (`sheets`).

mod lines;

pub(super) use lines::{ExerciseSaid, LineSaid, RowSaid, lines};

use rungwise_engine::sheet::say;
use rungwise_pack::model::{
    Criterion, Limit, MeasureKind, Origin, Outcome, Pack, Phase, PhaseIx, Rule, RuleKind, Urgency,
};

/// A criterion as it is read aloud.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Said {
    /// One sentence, verbatim.
    Sentence(String),
    /// How sentences are combined, and these.
    Group(How, Vec<Said>),
}

/// How sentences are combined.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum How {
    /// Every one.
    All,
    /// At least one.
    Any,
    /// Not one.
    None,
    /// A limit holds only while all of these do.
    While,
}

impl How {
    /// Said in front of them.
    pub(super) const fn words(self) -> &'static str {
        match self {
            Self::All => "all of these:",
            Self::Any => "any of these:",
            Self::None => "none of these:",
            Self::While => "but only while:",
        }
    }
}

/// A rule or a limit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Statement {
    /// Its key.
    pub(super) key: String,
    /// What is asked.
    pub(super) when: Vec<Said>,
    /// Why it is there, or a limit in the patient's words.
    pub(super) reason: String,
    /// What a referral does besides.
    pub(super) note: Option<String>,
}

/// Rules of one kind.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Group {
    /// What they do.
    pub(super) heading: String,
    /// The rules.
    pub(super) rules: Vec<Statement>,
}

/// A phase.
#[derive(Clone, Debug)]
pub(super) struct PhaseSaid {
    /// Its key.
    pub(super) key: String,
    /// What it is for.
    pub(super) aim: String,
    /// How often, and what is bounded.
    pub(super) pace: Vec<String>,
    /// Its lines, each with the names of the exercises that the phase has of it.
    pub(super) lines: Vec<(String, Vec<String>)>,
    /// Its rules, by what they do.
    pub(super) groups: Vec<Group>,
}

/// Everything that a chart says.
#[derive(Clone, Debug)]
pub(super) struct Chart {
    /// One line for people.
    pub(super) title: String,
    /// Identity, version and digest.
    pub(super) identity: String,
    /// Whom the pack is for.
    pub(super) scope: String,
    /// In order of care.
    pub(super) phases: Vec<PhaseSaid>,
    /// What holds in every phase.
    pub(super) always: Vec<Group>,
    /// Who is sent to a doctor: soonest first.
    pub(super) refer: Vec<Group>,
    /// In declared order.
    pub(super) lines: Vec<LineSaid>,
}

/// What a chart says of a pack, with the texts of a language.
pub(super) fn chart(pack: &Pack, language: &str) -> Chart {
    let phases = (0_u16..).map(PhaseIx).zip(&pack.phases);
    let digest = super::super::hex(&pack.digest);
    Chart {
        title: pack.title.clone(),
        identity: format!(
            "{} {}, digest {}",
            pack.id,
            pack.version,
            digest.get(..DIGEST_SHOWN).unwrap_or(&digest)
        ),
        scope: pack.scope.clone(),
        phases: phases
            .map(|(ix, phase)| phase_said(pack, language, ix, phase))
            .collect(),
        always: always(pack, language),
        refer: refer(pack),
        lines: lines(pack, language),
    }
}

/// So many digits of a digest tell one version from another on a wall.
const DIGEST_SHOWN: usize = 12;

/// A criterion as it is read aloud. A group of one that says no more than its part is left out.
pub(super) fn criterion(pack: &Pack, when: &Criterion) -> Said {
    let parts = |parts: &[Criterion]| -> Vec<Said> {
        parts.iter().map(|part| criterion(pack, part)).collect()
    };
    match when {
        Criterion::Sentence(ix) => Said::Sentence(
            pack.sentences
                .get(ix.at())
                .map_or_else(String::new, |sentence| plain(&sentence.text)),
        ),
        Criterion::All(list) | Criterion::Any(list) if list.len() == 1 => {
            criterion(pack, list.first().unwrap_or(when))
        }
        Criterion::All(list) => Said::Group(How::All, parts(list)),
        Criterion::Any(list) => Said::Group(How::Any, parts(list)),
        Criterion::None(list) => Said::Group(How::None, parts(list)),
    }
}

/// A text on one line.
fn plain(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn statement(pack: &Pack, rule: &Rule) -> Statement {
    Statement {
        key: rule.key.to_string(),
        when: vec![criterion(pack, &rule.when)],
        reason: plain(&rule.reason),
        note: None,
    }
}

/// A limit, in the rule's words and in the patient's.
pub(super) fn limit(pack: &Pack, language: &str, limit: &Limit) -> Statement {
    let condition = limit
        .condition
        .as_ref()
        .map(|condition| Said::Group(How::While, vec![criterion(pack, condition)]));
    let mut when = vec![criterion(pack, &Criterion::Sentence(limit.sentence))];
    when.extend(condition);
    Statement {
        key: limit.key.to_string(),
        when,
        reason: plain(&say(pack, language, &limit.text, &[])),
        note: None,
    }
}

fn group(heading: impl Into<String>, rules: Vec<Statement>) -> Option<Group> {
    let heading = heading.into();
    (!rules.is_empty()).then_some(Group { heading, rules })
}

fn phase_said(pack: &Pack, language: &str, ix: PhaseIx, phase: &Phase) -> PhaseSaid {
    let of = |wanted: RuleKind| -> Vec<Statement> {
        let rules = phase
            .rules
            .iter()
            .filter_map(|rule| pack.rules.get(rule.at()));
        rules
            .filter(|rule| rule.kind == wanted)
            .map(|rule| statement(pack, rule))
            .collect()
    };
    let before = ix.at().checked_sub(1).and_then(|at| pack.phases.get(at));
    let before = before.map_or("", |phase| &*phase.key);
    let limits = phase.limits.iter();
    let limits = limits.map(|one| limit(pack, language, one)).collect();
    let signed = |outcome| {
        if pack.sign_off.contains(&outcome) {
            ", and a clinician signs it off"
        } else {
            ""
        }
    };
    let (enter, end) = (signed(Outcome::Progress), signed(Outcome::Discharge));
    let groups = [
        group(
            format!("Entered from {before} when every rule is met{enter}"),
            of(RuleKind::Enter),
        ),
        group("Care begins here when a rule is met", of(RuleKind::Start)),
        group("Limits in this phase", limits),
        group("Nothing goes up while a rule is met", of(RuleKind::Hold)),
        group(
            "Every line one step easier when a rule is met",
            of(RuleKind::Ease),
        ),
        group(
            format!("Back to {before} when a rule is met"),
            of(RuleKind::Regress),
        ),
        group("A clinician looks when a rule is met", of(RuleKind::Review)),
        group(
            format!("Care ends when every rule is met{end}"),
            of(RuleKind::Discharge),
        ),
    ];
    PhaseSaid {
        key: phase.key.to_string(),
        aim: plain(&phase.aim),
        pace: pace(phase),
        lines: lines::of_phase(pack, language, phase),
        groups: groups.into_iter().flatten().collect(),
    }
}

fn pace(phase: &Phase) -> Vec<String> {
    let week = phase.sessions_a_week;
    let sessions = if week == 1 { "session" } else { "sessions" };
    let bound = |most: Option<u16>, one: &str, many: &str| {
        most.map(|most| format!("at most {most} {}", if most == 1 { one } else { many }))
    };
    [
        Some(format!("{week} {sessions} a week")),
        bound(
            phase.lines_max,
            "line is prescribed",
            "lines are prescribed",
        ),
        bound(
            phase.introduce_max,
            "line begins at a time",
            "lines begin at a time",
        ),
        bound(
            phase.climb_max,
            "line climbs for one session",
            "lines climb for one session",
        ),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// What holds in every phase.
fn always(pack: &Pack, language: &str) -> Vec<Group> {
    let of = |wanted: RuleKind| -> Vec<Statement> {
        let of_pack = |rule: &&Rule| rule.phase.is_none() && rule.exercise.is_none();
        let rules = pack.rules.iter().filter(of_pack);
        rules
            .filter(|rule| rule.kind == wanted)
            .map(|rule| statement(pack, rule))
            .collect()
    };
    let limits = pack.limits.iter();
    let limits = limits.map(|one| limit(pack, language, one)).collect();
    [
        group("Limits", limits),
        group("Nothing goes up while a rule is met", of(RuleKind::Hold)),
        group(
            "Every line one step easier when a rule is met",
            of(RuleKind::Ease),
        ),
        group("Back one phase when a rule is met", of(RuleKind::Regress)),
        group("After days without a session", lay_off(pack)),
        group("A clinician looks when a rule is met", of(RuleKind::Review)),
    ]
    .into_iter()
    .flatten()
    .chain(defined(pack))
    .collect()
}

/// Measures that are defined by others: each choice but the best, worst first, with what makes it so.
fn defined(pack: &Pack) -> Vec<Group> {
    let groups = pack.measures.iter().filter_map(|measure| {
        let (Origin::Defined(defined), MeasureKind::Choice { choices }) =
            (&measure.origin, &measure.kind)
        else {
            return None;
        };
        let mut features: Vec<_> = defined.features.iter().collect();
        features.sort_by_key(|(choice, _)| std::cmp::Reverse(*choice));
        let rules = features.into_iter().map(|(choice, when)| Statement {
            key: format!(
                "{}:",
                choices.get(choice.at()).map_or("", |choice| &**choice)
            ),
            when: vec![criterion(pack, when)],
            reason: String::new(),
            note: None,
        });
        let best = choices.first().map_or("", |choice| &**choice);
        group(
            format!("{} is the worst of these, else {best}", measure.name),
            rules.collect(),
        )
    });
    groups.collect()
}

/// The lay-off table: each row as a rule without a key.
fn lay_off(pack: &Pack) -> Vec<Statement> {
    let rows = pack.lay_off.iter().map(|row| {
        let eased = match row.steps {
            0 => "nothing goes up".to_owned(),
            1 => "every exercise one step easier".to_owned(),
            steps => format!("every exercise {steps} steps easier"),
        };
        let review = if row.review {
            ", and a clinician looks"
        } else {
            ""
        };
        Statement {
            key: String::new(),
            when: vec![Said::Sentence(format!(
                "from {} days: {eased}{review}",
                row.days
            ))],
            reason: String::new(),
            note: None,
        }
    });
    rows.collect()
}

/// The refer rules, soonest first.
fn refer(pack: &Pack) -> Vec<Group> {
    let urgencies = [
        (Urgency::Emergency, "Emergency: now"),
        (Urgency::SameDay, "The same day"),
        (Urgency::Urgent, "Urgently"),
        (Urgency::Routine, "At the next ordinary opportunity"),
    ];
    let groups = urgencies.iter().map(|(urgency, heading)| {
        let of = pack.screening.iter().filter(|one| one.urgency == *urgency);
        let rules = of.filter_map(|one| {
            let rule = pack.rules.get(one.rule.at())?;
            let exercise = match rule.kind {
                RuleKind::Refer { stops: true } => "exercise stops",
                _ => "exercise is kept",
            };
            let person = if one.of_person {
                ", in every episode of the person"
            } else {
                ""
            };
            Some(Statement {
                note: Some(format!("{}; {exercise}{person}", one.route)),
                ..statement(pack, rule)
            })
        });
        group(*heading, rules.collect())
    });
    groups.flatten().collect()
}
