//! The pages of line groups.

use askama::Template;
use uuid::Uuid;

use super::ancestry::month;
use crate::lineage::actions::groups::Group;
use crate::lineage::actions::line::{Kept, KeptBrood};
use crate::platform::errors::Problem;
use crate::platform::html::{Field, FormErrors, Page};
use crate::platform::words::{RunKind, Words};
use crate::rooms::views::parts_in_words;

/// `/groups`.
#[derive(Template)]
#[template(path = "lineage/groups.html")]
pub struct GroupsPage {
    page: Page,
    lead: String,
    errors: Option<FormErrors>,
    groups: Vec<GroupLine>,
    id: Uuid,
    species: Field,
    line: Field,
}

/// A group of the reader's.
pub struct GroupLine {
    name: Words,
    href: String,
    sentence: String,
}

/// `/groups/{group}`.
#[derive(Template)]
#[template(path = "lineage/group.html")]
pub struct GroupPage {
    page: Page,
    heading: Words,
    lead: String,
    said: Option<Words>,
    errors: Option<FormErrors>,
    href: String,
    joined: bool,
    kept: Vec<KeptRows>,
    login: Field,
}

/// What some keepers keep.
pub struct KeptRows {
    who: String,
    rows: Vec<BroodRow>,
}

/// A brood of the line.
pub struct BroodRow {
    code: String,
    about: String,
    how_many: String,
    counted: String,
}

fn name(group: &Group) -> Words {
    Words::species(&group.row.species).and(RunKind::Plain, format!(", line {}", group.row.line))
}

/// Those of the reader.
pub fn groups_page(
    page: Page,
    groups: &[Group],
    id: Uuid,
    came_back: Option<((&str, &str), &Problem)>,
) -> GroupsPage {
    let (joined, asked) =
        (groups.iter().filter(|g| g.joined).count(), groups.iter().filter(|g| !g.joined).count());
    let lead = match joined {
        0 => "You keep no line together with others yet.".to_owned(),
        1 => "You keep one line together with others.".into(),
        n => format!("You keep {n} lines together with others."),
    };
    let lead = match asked {
        0 => lead,
        1 => format!("{lead} You are asked into one more."),
        n => format!("{lead} You are asked into {n} more."),
    };
    let problem = came_back.map(|(_, problem)| problem);
    let (species, line) = came_back.map_or(("", ""), |(typed, _)| typed);
    GroupsPage {
        page,
        lead,
        errors: problem.map(|problem| FormErrors::of("Not begun", problem)),
        groups: groups.iter().map(group_line).collect(),
        id,
        species: Field::new("species", "Species").hint("As your broods have it.").typed(species, problem),
        line: Field::new("line", "Line").hint("As your broods have it.").typed(line, problem),
    }
}

fn group_line(group: &Group) -> GroupLine {
    let sentence = match (group.joined, &group.asked_by) {
        (true, _) => kept_by(group),
        (false, Some(by)) => format!("{by} asks you to keep it together. {}", kept_by(group)),
        (false, None) => format!("You are asked to keep it together. {}", kept_by(group)),
    };
    GroupLine { name: name(group), href: format!("/groups/{}", group.row.id), sentence }
}

fn kept_by(group: &Group) -> String {
    match &group.members[..] {
        [] => "Nobody is in it.".into(),
        [one] => format!("{one} is in it."),
        [some @ .., last] => format!("{} and {last} are in it.", some.join(", ")),
    }
}

/// One group.
pub fn group_page(
    page: impl FnOnce(String) -> Page,
    group: &Group,
    kept: &[Kept],
    asked: bool,
    came_back: Option<(&str, &Problem)>,
) -> GroupPage {
    let heading = name(group);
    let lead = match (group.joined, &group.asked_by) {
        (true, _) => format!(
            "{} You see one another\u{2019}s broods of this line, how many live and when they were last counted; \
             nothing else of the rooms.",
            kept_by(group)
        ),
        (false, by) => format!(
            "{} asks you to keep this line together. {} If you agree, they see your broods of this line, how many \
             live and when they were last counted, and you see theirs; nothing else of the rooms.",
            by.as_deref().unwrap_or("A member"),
            kept_by(group)
        ),
    };
    let problem = came_back.map(|(_, problem)| problem);
    GroupPage {
        page: page(heading.text()),
        heading,
        lead,
        said: asked.then(|| Words::plain("Asked. They are told on their page, and agree or not.")),
        errors: problem.map(|problem| FormErrors::of("Not asked", problem)),
        href: format!("/groups/{}", group.row.id),
        joined: group.joined,
        kept: kept.iter().map(rows).collect(),
        login: Field::new("login", "Login name")
            .hint("What the other keeper signs in with.")
            .typed(came_back.map_or("", |(typed, _)| typed), problem),
    }
}

fn rows(kept: &Kept) -> KeptRows {
    KeptRows { who: kept.who.join(" and "), rows: kept.broods.iter().map(row).collect() }
}

fn row(brood: &KeptBrood) -> BroodRow {
    let form = brood.form.as_ref().map(|form| format!("\u{201c}{form}\u{201d}"));
    let about: Vec<String> = [brood.month.as_deref().map(month), form].into_iter().flatten().collect();
    let lives = brood.numbers.iter().map(|(_, n, _)| n).sum::<i64>() > 0;
    BroodRow {
        code: if brood.code.is_empty() { "no code".into() } else { brood.code.clone() },
        about: about.join(", "),
        how_many: parts_in_words(&brood.numbers),
        counted: match brood.counted {
            Some(day) => day.format("%-d %b %Y").to_string(),
            None if lives => "not all counted yet".into(),
            None => String::new(),
        },
    }
}
