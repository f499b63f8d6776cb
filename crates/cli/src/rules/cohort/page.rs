//! A simulation as one page of HTML: no script, nothing fetched, readable in grey and on paper.
//!
//! Leaves to others: the tables (`super::tables`), the charts (`super::charts`).

use super::charts::{Bar, Panel, Stairs, bars, stairs};
use super::lists;
use super::number::share;
use super::tables::{self, LEFT_OUT, Table};
use super::{CAUTION, Side, Simulation};
use crate::failure::Failure;
use rungwise_rehearsal::cohort::Arrivals;
use std::fmt::Write as _;

const STYLE: &str = "
body { font: 16px/1.45 sans-serif; color: #000; background: #fff; max-width: 1040px; margin: 2em auto; padding: 0 1em }
h1 { font-size: 1.5em } h2 { font-size: 1.15em; margin-top: 2em }
.caution { border: 2px solid #000; padding: .6em 1em }
.scroll { overflow-x: auto }
table { border-collapse: collapse; font-size: .92em }
th, td { text-align: left; vertical-align: top; padding: .2em .7em .2em 0; border-bottom: 1px solid #bbb }
th { border-bottom: 2px solid #000 }
th.n, td.n { text-align: right; white-space: nowrap; font-variant-numeric: tabular-nums }
svg { max-width: 100%; height: auto }
code { overflow-wrap: anywhere }
@media print { h2, figure, tr { break-inside: avoid } body { margin: 0 } }
";

/// Most bars of a chart.
const BARS_MAX: usize = 8;

/// The whole page.
pub(super) fn page(simulation: &Simulation<'_>) -> Result<String, Failure> {
    let title = escaped(&simulation.title());
    let mut body = format!(
        "<h1>{title}</h1>\n<p class=\"caution\">{}</p>\n<ul>\n",
        escaped(CAUTION)
    );
    for side in simulation.sides() {
        push(
            &mut body,
            &format!("<li><code>{}</code></li>", escaped(&tables::digest(side))),
        );
    }
    push(&mut body, "</ul>");
    if let Some((second, paired)) = &simulation.second {
        let first = &simulation.first;
        let table = tables::differences(first, second, paired);
        push(&mut body, &told(&table));
    }
    push(&mut body, &charts(simulation)?);
    for side in simulation.sides() {
        for table in tables::of(side) {
            let table = if simulation.second.is_some() {
                table.under(side)
            } else {
                table
            };
            push(&mut body, &told(&table));
        }
    }
    push(&mut body, &told(&tables::assumptions(&simulation.model)));
    push(&mut body, "<h2>What the model leaves out</h2>\n<ul>");
    for one in LEFT_OUT {
        push(&mut body, &format!("<li>{}</li>", escaped(one)));
    }
    push(&mut body, "</ul>");
    Ok(format!(
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" content=\"width=device-width\">\n<title>{title}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n{body}</body>\n</html>\n"
    ))
}

fn push(body: &mut String, more: &str) {
    body.push_str(more);
    body.push('\n');
}

fn told(table: &Table) -> String {
    let mut html = format!("<h2>{}</h2>\n", escaped(&table.title));
    if !table.note.is_empty() {
        // A String takes everything.
        let _ = writeln!(html, "<p>{}</p>", escaped(&table.note));
    }
    if table.rows.is_empty() {
        return html;
    }
    html.push_str("<div class=\"scroll\"><table>\n");
    let heads = std::iter::once((&table.head, "th"));
    let rows = table.rows.iter().map(|row| (row, "td"));
    for (row, tag) in heads.chain(rows) {
        html.push_str("<tr>");
        for (column, cell) in row.iter().enumerate() {
            let class = if table.is_words(column) {
                ""
            } else {
                " class=\"n\""
            };
            let _ = write!(html, "<{tag}{class}>{}</{tag}>", escaped(cell));
        }
        html.push_str("</tr>\n");
    }
    html.push_str("</table></div>");
    html
}

fn charts(simulation: &Simulation<'_>) -> Result<String, Failure> {
    let first = &simulation.first;
    let second = simulation.second.as_ref().map(|(side, _)| side);
    let (which, bar) = match second {
        Some(second) => (
            format!(
                " The whole line is {}, the broken one {}.",
                first.name, second.name
            ),
            format!(" Hatched: {}; empty: {}.", first.name, second.name),
        ),
        None => (String::new(), String::new()),
    };
    let weeks = simulation.args.weeks;
    let mut html = figure(
        "Who has come to each phase, by week",
        &format!("In per cent of all people; beside each name the share that came.{which}"),
        &stairs(&panels(first, second), weeks)?,
    );
    let stuck = stuck(first, second);
    if !stuck.is_empty() {
        html.push_str(&figure(
            "Where people are stuck",
            &format!("In per cent of all people, the first time.{bar}"),
            &bars(&stuck)?,
        ));
    }
    let lacked = counted(first, second, lists::lacked, |side| side.cohort.decisions);
    html.push_str(&figure(
        "What is lacking most often for the next phase or for discharge",
        &format!("In per cent of all decisions.{bar}"),
        &bars(&lacked)?,
    ));
    let held = counted(first, second, lists::held, |side| side.cohort.decisions);
    if !held.is_empty() {
        html.push_str(&figure(
            "What holds most often, sends back or refers",
            &format!("In per cent of all decisions.{bar}"),
            &bars(&held)?,
        ));
    }
    Ok(html)
}

fn figure(title: &str, note: &str, svg: &str) -> String {
    format!(
        "<h2>{}</h2>\n<p>{}</p>\n<figure style=\"margin:0\">{svg}</figure>\n",
        escaped(title),
        escaped(note)
    )
}

fn panels(first: &Side, second: Option<&Side>) -> Vec<Panel> {
    let stairs = |came: &Arrivals| Stairs {
        by_day: came.by_day().to_vec(),
        people: came.people(),
    };
    let panel = |name: &str, came: &Arrivals, other: Option<&Arrivals>| Panel {
        title: match other {
            None => format!("{name}: {}", share(came.came(), came.people())),
            Some(other) => format!(
                "{name}: {}, {}",
                share(came.came(), came.people()),
                share(other.came(), other.people())
            ),
        },
        first: stairs(came),
        second: other.map(stairs),
    };
    let phases = first.pack.phases.iter().zip(&first.cohort.phases);
    let mut panels: Vec<Panel> = phases
        .map(|(phase, came)| {
            let other = second.and_then(|second| {
                let at = second.pack.phase(&phase.key)?;
                second.cohort.phases.get(at.at())
            });
            panel(&phase.key, came, other)
        })
        .collect();
    let ended = second.map(|second| &second.cohort.ended);
    panels.push(panel("discharge", &first.cohort.ended, ended));
    panels
}

fn stuck(first: &Side, second: Option<&Side>) -> Vec<Bar> {
    let of = |side: &Side, key: &str| {
        let at = side.pack.phase(key);
        let count = at.and_then(|at| side.cohort.stuck_in.get(at.at()).copied());
        permille(count.unwrap_or(0), side.cohort.people)
    };
    let phases = first.pack.phases.iter();
    let bars = phases.map(|phase| Bar {
        words: format!("in {}", phase.key),
        first: of(first, &phase.key),
        second: second.map(|second| of(second, &phase.key)),
    });
    bars.filter(|bar| bar.first.0 > 0 || bar.second.as_ref().is_some_and(|one| one.0 > 0))
        .collect()
}

/// The first pack's most frequent, with the second's share of the same words.
fn counted(
    first: &Side,
    second: Option<&Side>,
    list: impl Fn(&Side) -> Vec<(String, String, [u64; 2])>,
    of: impl Fn(&Side) -> u64,
) -> Vec<Bar> {
    let other = second.map(|side| (side, list(side), of(side)));
    let bars = list(first).into_iter().take(BARS_MAX);
    bars.map(|(owner, words, [count, _])| {
        let second = other.as_ref().map(|(side, list, whole)| {
            let same = list
                .iter()
                .find(|(other, text, _)| *other == owner && *text == words);
            match same {
                Some((_, _, [count, _])) => permille(*count, *whole),
                None if lists::has(side, &owner, &words) => permille(0, *whole),
                None => (0, "not in these words".to_owned()),
            }
        });
        Bar {
            words: shortened(&format!("{words} ({owner})")),
            first: permille(count, of(first)),
            second,
        }
    })
    .collect()
}

fn permille(count: u64, of: u64) -> (u64, String) {
    let permille = (count * 1000).checked_div(of).unwrap_or(0);
    (permille, share(count, of))
}

/// As much as a line of the page has room for.
fn shortened(words: &str) -> String {
    const CHARACTERS_MAX: usize = 125;
    if words.chars().count() <= CHARACTERS_MAX {
        return words.to_owned();
    }
    let mut short: String = words.chars().take(CHARACTERS_MAX - 1).collect();
    short.push('…');
    short
}

/// Text that HTML shows as it is.
fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for one in text.chars() {
        match one {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            _ => safe.push(one),
        }
    }
    safe
}
