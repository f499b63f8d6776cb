//! Sentences for generated packs, each good news or bad news as its rule wants it.
//!
//! Leaves to others: the rules around them (`super::pack`).

use super::Dice;

/// What a sentence has to say when it is met.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Tone {
    /// That things are well (upward rules).
    Good,
    /// That things are not well (cautious rules).
    Bad,
}

/// Where a sentence stands.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Where {
    /// In a rule of the pack or of a phase.
    Phase,
    /// In a rule of an exercise.
    Exercise,
    /// In a refer rule.
    Refer,
    /// In a start rule.
    Start,
    /// As a limit: about one session.
    Limit,
    /// In the condition of a limit.
    Condition,
    /// In a defined measure.
    Defined,
}

/// What a generated pack may use.
#[derive(Clone, Debug)]
pub struct Words {
    /// Whether sentences may refer to other values (first assessment, other side, other measures).
    pub references: bool,
    /// Whether only sentences that somebody who never hurts meets (or never meets, where they are cautious) may stand.
    pub climbable: bool,
    /// Whether the defined measure may be used.
    pub defined: bool,
    /// Every exercise.
    pub exercises: Vec<String>,
    /// Variables with values, and the exercises that have them.
    pub reached: Vec<(String, String, String)>,
    /// Every value of every row: (line, variable, value).
    pub rows: Vec<(String, String, String)>,
}

impl Words {
    /// How many lines have an exercise with this value.
    fn lines_reaching(&self, variable: &str, value: &str) -> usize {
        let lines: std::collections::BTreeSet<&String> = self
            .rows
            .iter()
            .filter(|(_, other, has)| other == variable && has == value)
            .map(|(line, ..)| line)
            .collect();
        lines.len()
    }
}

impl Tone {
    /// The opposite.
    #[must_use]
    pub const fn turned(self) -> Self {
        match self {
            Self::Good => Self::Bad,
            Self::Bad => Self::Good,
        }
    }
}

/// A criterion as TOML.
pub fn criterion(dice: &mut Dice, words: &Words, tone: Tone, at: Where) -> String {
    if matches!(at, Where::Limit) {
        return quoted(&sentence(dice, words, tone, at));
    }
    match dice.count(0, 9) {
        0..=5 => one(dice, words, tone, at),
        6 => format!(
            "{{ all = [{}, {}] }}",
            one(dice, words, tone, at),
            one(dice, words, tone, at)
        ),
        7 => format!(
            "{{ any = [{}, {}] }}",
            one(dice, words, tone, at),
            one(dice, words, tone, at)
        ),
        // Turned round, "many days in the phase" would be wanted of a cautious rule after all.
        8 if words.climbable => one(dice, words, tone, at),
        8 => format!("{{ none = [{}] }}", one(dice, words, tone.turned(), at)),
        _ => format!(
            "{{ any = [{}, {{ all = [{}, {}] }}] }}",
            one(dice, words, tone, at),
            one(dice, words, tone, at),
            one(dice, words, tone, at)
        ),
    }
}

fn quoted(text: &str) -> String {
    format!("\"{text}\"")
}

/// One sentence; a reference comes with the absolute bound that the checker wants beside it.
fn one(dice: &mut Dice, words: &Words, tone: Tone, at: Where) -> String {
    if words.references && !matches!(at, Where::Defined | Where::Condition) && dice.percent(15) {
        return with_reference(dice, tone, at);
    }
    quoted(&sentence(dice, words, tone, at))
}

#[expect(
    clippy::too_many_lines,
    reason = "one arm a form of reference: a table, read as one"
)]
fn with_reference(dice: &mut Dice, tone: Tone, at: Where) -> String {
    let session_time = !matches!(at, Where::Refer | Where::Start);
    let (relative, absolute) = match dice.count(0, if session_time { 6 } else { 3 }) {
        0 => {
            let by = dice.number(1, 4) * 5;
            let reference = *dice.pick(&[
                "since the first assessment",
                "since the assessment before",
                "since the best assessment",
                "since entering the phase",
            ]);
            let way = if tone == Tone::Good { "up" } else { "down" };
            let by = if dice.percent(25) {
                format!("{by} %")
            } else {
                format!("{by} deg")
            };
            (
                format!("measure-d {way} by at least {by} {reference}"),
                absolute_d(dice, tone),
            )
        }
        1 => {
            let percent = dice.number(7, 10) * 10;
            let way = if tone == Tone::Good {
                "at least"
            } else {
                "below"
            };
            (
                format!("measure-d {way} {percent} % of the other side"),
                absolute_d(dice, tone),
            )
        }
        2 => {
            let percent = dice.number(5, 10) * 10;
            let way = if tone == Tone::Good {
                "at least"
            } else {
                "below"
            };
            (
                format!("measure-d {way} {percent} % of measure-i"),
                absolute_d(dice, tone),
            )
        }
        3 => {
            let by = dice.number(0, 3) * 5;
            let way = if tone == Tone::Good {
                "at least"
            } else {
                "below"
            };
            (
                format!("measure-d {way} {by} deg below measure-i"),
                absolute_d(dice, tone),
            )
        }
        4 => {
            let by = dice.number(0, 3);
            let way = if tone == Tone::Good {
                "at most"
            } else {
                "above"
            };
            let window = sessions(dice);
            let beside = *dice.pick(&["measure-b", "measure-a"]);
            (
                format!("measure-c {way} {by} above {beside}{window}"),
                absolute_score(dice, "measure-c", tone),
            )
        }
        5 => {
            let by = dice.number(0, 3);
            let way = if tone == Tone::Good {
                "at most"
            } else {
                "above"
            };
            let window = sessions(dice);
            (
                format!("measure-a {way} {by} above measure-b{window}"),
                absolute_score(dice, "measure-a", tone),
            )
        }
        _ => {
            let way = if tone == Tone::Good { "down" } else { "up" };
            let stat = *dice.pick(&["on average", "at worst"]);
            let (days, before) = (dice.number(2, 7), dice.number(2, 7));
            let by = dice.number(1, 2);
            (
                format!(
                    "measure-b {way} by at least {by} compared with the {before} days before {stat} over the last {days} days"
                ),
                absolute_score(dice, "measure-b", tone),
            )
        }
    };
    let how = if tone == Tone::Good { "all" } else { "any" };
    format!(
        "{{ {how} = [{}, {}] }}",
        quoted(&relative),
        quoted(&absolute)
    )
}

fn absolute_d(dice: &mut Dice, tone: Tone) -> String {
    let deg = dice.number(4, 24) * 5;
    let way = if tone == Tone::Good {
        "at least"
    } else {
        "below"
    };
    format!("measure-d {way} {deg} deg")
}

fn absolute_score(dice: &mut Dice, measure: &str, tone: Tone) -> String {
    match tone {
        Tone::Good => format!("{measure} at most {}", dice.number(3, 8)),
        Tone::Bad => format!("{measure} at least {}", dice.number(4, 9)),
    }
}

/// A window over sessions.
fn sessions(dice: &mut Dice) -> String {
    match dice.count(0, 5) {
        0 => String::new(),
        1 => " in the last session".to_owned(),
        2 | 3 => format!(" in each of the last {} sessions", dice.number(2, 3)),
        4 => format!(" in any of the last {} sessions", dice.number(2, 3)),
        _ => {
            let n = dice.number(2, 4);
            format!(
                " in at least {} of the last {n} sessions",
                dice.number(2.min(n), n)
            )
        }
    }
}

/// A window over sessions or days.
fn window(dice: &mut Dice) -> String {
    match dice.count(0, 9) {
        0..=5 => sessions(dice),
        6 => {
            let n = dice.number(2, 7);
            format!(
                " on at least {} of the last {n} days",
                dice.number(1, n.min(3))
            )
        }
        7 => format!(" on average over the last {} days", dice.number(2, 10)),
        8 => format!(
            " at {} over the last {} days",
            dice.pick(&["worst", "best"]),
            dice.number(2, 10)
        ),
        _ => format!(
            " {} since entering the phase",
            dice.pick(&["on average", "at worst", "at best"])
        ),
    }
}

fn score(dice: &mut Dice, measure: &str, tone: Tone, window: &str) -> String {
    let relation = match (tone, dice.percent(50)) {
        (Tone::Good, true) => format!("at most {}", dice.number(2, 6)),
        (Tone::Good, false) => format!("below {}", dice.number(3, 7)),
        (Tone::Bad, true) => format!("at least {}", dice.number(4, 8)),
        (Tone::Bad, false) => format!("above {}", dice.number(3, 7)),
    };
    format!("{measure} {relation}{window}")
}

/// A sentence without references.
pub fn sentence(dice: &mut Dice, words: &Words, tone: Tone, at: Where) -> String {
    match at {
        Where::Limit => {
            let measure = *dice.pick(&["measure-a", "measure-a", "measure-b", "measure-c"]);
            format!("{measure} at most {}", dice.number(3, 6))
        }
        Where::Refer => of_refer(dice, tone),
        Where::Start => of_assessment(dice, tone),
        Where::Condition | Where::Defined => match dice.count(0, 2) {
            0 => of_assessment(dice, tone),
            1 => score(dice, "measure-b", tone, ""),
            _ => score(dice, "measure-c", tone, ""),
        },
        Where::Phase | Where::Exercise => anywhere(dice, words, tone, at),
    }
}

fn of_refer(dice: &mut Dice, tone: Tone) -> String {
    match (dice.count(0, 4), tone) {
        (0 | 1, Tone::Bad) => "measure-f is yes".to_owned(),
        (0 | 1, Tone::Good) => "measure-f is no".to_owned(),
        (2, Tone::Bad) => format!("measure-g at least {}", dice.number(5, 9)),
        (2, Tone::Good) => format!("measure-g at most {}", dice.number(3, 6)),
        (3, Tone::Bad) => "computed-event at most 3 d".to_owned(),
        (3, Tone::Good) => "computed-event above 3 d".to_owned(),
        (_, tone) => score(dice, "measure-b", tone, ""),
    }
}

fn of_assessment(dice: &mut Dice, tone: Tone) -> String {
    match (dice.count(0, 3), tone) {
        (0 | 1, tone) => absolute_d(dice, tone),
        (2, Tone::Good) => "measure-e no worse than mid".to_owned(),
        (2, Tone::Bad) => "measure-e is high".to_owned(),
        (_, Tone::Good) => "measure-e is low".to_owned(),
        (_, Tone::Bad) => "measure-e is not low".to_owned(),
    }
}

fn anywhere(dice: &mut Dice, words: &Words, tone: Tone, at: Where) -> String {
    let kind = match dice.count(0, 15) {
        // Exercises by name, counts of exercises and what has been reached may never come.
        4 | 5 | 12 if words.climbable => 0,
        kind => kind,
    };
    match kind {
        0..=3 => {
            let window = window(dice);
            score(dice, "measure-a", tone, &window)
        }
        4 => {
            let window = sessions(dice);
            let quantifier = *dice.pick(&[
                "in any exercise",
                "in every exercise",
                "in at least 2 exercises",
            ]);
            format!("{quantifier} {}", score(dice, "measure-a", tone, &window))
        }
        5 => {
            let exercise = dice.pick(&words.exercises).clone();
            let window = sessions(dice);
            score(dice, &format!("measure-a of {exercise}"), tone, &window)
        }
        6 | 7 => {
            let window = window(dice);
            score(dice, "measure-b", tone, &window)
        }
        8 | 9 => {
            // The morning after today's session is still to come: a count of days may never be full.
            let window = if words.climbable {
                sessions(dice)
            } else {
                window(dice)
            };
            score(dice, "measure-c", tone, &window)
        }
        10 => of_assessment(dice, tone),
        11 if words.defined => match tone {
            Tone::Good => "measure-h no worse than mid".to_owned(),
            Tone::Bad => "measure-h is high".to_owned(),
        },
        12 if tone == Tone::Good && at == Where::Phase && !words.reached.is_empty() => {
            let (exercise, variable, value) = dice.pick(&words.reached).clone();
            match dice.count(0, 1) {
                0 => format!("{exercise} has reached {variable} {value}"),
                _ => {
                    let most = words.lines_reaching(&variable, &value).min(2);
                    let k = dice.count(1, most);
                    format!("at least {k} exercises have reached {variable} {value}")
                }
            }
        }
        13 => format!(
            "measure-l at most {} in total over the last {} days",
            dice.number(3, 30),
            dice.number(2, 7)
        )
        .replace(
            "at most",
            if tone == Tone::Good {
                "at most"
            } else {
                "at least"
            },
        ),
        14 => {
            format!(
                "measure-k {}",
                if tone == Tone::Good {
                    "is not high"
                } else {
                    "is high"
                }
            ) + &sessions(dice)
        }
        // Bad news of days and counts is that there are few of them, as everybody has at first.
        _ if words.climbable && tone == Tone::Bad => absolute_d(dice, tone),
        _ => computed(dice, words, tone),
    }
}

fn computed(dice: &mut Dice, words: &Words, tone: Tone) -> String {
    let least = if tone == Tone::Good {
        "at least"
    } else {
        "below"
    };
    match dice.count(0, if words.climbable { 4 } else { 8 }) {
        0 => format!("computed-sessions {least} {}", dice.number(1, 4)),
        1 => format!("computed-days {least} {} d", dice.number(2, 9)),
        2 => format!("computed-weeks {least} {} wk", dice.number(1, 2)),
        3 => format!("computed-care {least} {} wk", dice.number(1, 2)),
        4 => format!("computed-share {least} {} %", dice.number(3, 9) * 10),
        5 => format!("computed-dose {least} {} d", dice.number(1, 5)),
        6 => format!(
            "computed-age {} {} a",
            if tone == Tone::Good {
                "at most"
            } else {
                "above"
            },
            dice.number(40, 60)
        ),
        7 => format!(
            "computed-days between {} d and {} d",
            dice.number(0, 3),
            dice.number(4, 9)
        ),
        _ => format!(
            "computed-last {} {} d",
            if tone == Tone::Good {
                "at most"
            } else {
                "at least"
            },
            dice.number(2, 8)
        ),
    }
}
