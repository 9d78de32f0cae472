//! A club as its members see it, and for its secretary what there is to begin with.

use actix_web::{HttpResponse, get, post, web};
use askama::Template;
use serde::Deserialize;
use tarn_domain::clubs::{Role, Rule};
use uuid::Uuid;

use super::factor::FactorPart;
use super::{HERE, Pressed, Reader, again};
use crate::accounts::store::clubs_of;
use crate::clubs::{actions, store};
use crate::platform::csrf::Form;
use crate::platform::html::{Field, FormErrors, Link, Page, day_and_time, render, see_other};
use crate::platform::parts::Fact;
use crate::platform::words::Words;
use crate::platform::{Ctx, PageSession, Problem, Result};

#[derive(Template)]
#[template(path = "clubs/clubs.html")]
struct ClubsPage {
    page: Page,
    lead: String,
    clubs: Vec<ClubLine>,
}

struct ClubLine {
    href: String,
    name: String,
    roles: String,
}

/// The reader's clubs; the only one at once.
#[get("/clubs")]
pub async fn list(ctx: web::Data<Ctx>, session: PageSession) -> Result<HttpResponse> {
    let mine = clubs_of(&ctx.db.conn, session.who.account).await?;
    if let [(club, _)] = &mine[..] {
        return Ok(see_other(&format!("{HERE}/{}", club.id)));
    }
    let lead = match mine.len() {
        0 => "You belong to no club here. An invitation comes as a link from a club's secretary.".to_owned(),
        many => format!("You belong to {many} clubs."),
    };
    let clubs = mine.into_iter().map(|(club, roles)| ClubLine {
        href: format!("{HERE}/{}", club.id),
        name: club.name,
        roles: offices(roles.iter().filter_map(|role| Role::parse(role))),
    });
    render(&ClubsPage { page: Page::of(&ctx, &session, "Clubs", HERE), lead, clubs: clubs.collect() })
}

/// "Secretary, treasurer", or "Member".
pub(super) fn offices(roles: impl IntoIterator<Item = Role>) -> String {
    let offices: Vec<String> =
        roles.into_iter().filter(|role| *role != Role::Member).map(Role::words).collect();
    let all = if offices.is_empty() { Role::Member.words() } else { offices.join(", ") };
    let mut signs = all.chars();
    signs.next().into_iter().flat_map(char::to_uppercase).chain(signs).collect()
}

#[derive(Template)]
#[template(path = "clubs/club.html")]
struct ClubPage {
    page: Page,
    lead: String,
    said: Option<&'static str>,
    errors: Option<FormErrors>,
    href: String,
    steps: Vec<Step>,
    officers: Vec<Named>,
    members: Vec<Named>,
    rule: String,
    facts: Vec<Fact>,
    adopt: Option<Field>,
    factor: FactorPart,
    ways: Vec<Link>,
}

/// One of five things with which a club begins.
struct Step {
    title: &'static str,
    sentence: &'static str,
    done: bool,
    link: Option<Link>,
}

struct Named {
    name: String,
    roles: String,
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct Done {
    adopted: Option<String>,
}

/// A club.
#[get("/clubs/{club}")]
pub async fn show(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<Uuid>,
    done: web::Query<Done>,
) -> Result<HttpResponse> {
    let said = done.adopted.is_some().then_some("The rule is adopted.");
    render(&page(&ctx, &session, *path, said, None).await?)
}

async fn page(
    ctx: &Ctx,
    session: &PageSession,
    club: Uuid,
    said: Option<&'static str>,
    came_back: Option<(&str, &Problem)>,
) -> Result<ClubPage> {
    let reader = Reader::of(ctx, session, club).await?;
    let conn = &ctx.db.conn;
    let rules = store::rules_of(conn, club).await?;
    let now = ctx.clock.now_ms();
    let in_force = rules.iter().rev().find(|rule| rule.from_ms <= now);
    let rule = in_force.and_then(|row| serde_json::from_str(&row.rule).ok());
    let people = store::members(conn, club).await?;
    let parse = |roles: &[String]| roles.iter().filter_map(|role| Role::parse(role)).collect::<Vec<_>>();
    let named: Vec<(String, Vec<Role>)> =
        people.iter().map(|(account, roles, _)| (account.shown_name.clone(), parse(roles))).collect();
    let is_officer = |roles: &[Role]| roles.iter().any(|role| *role != Role::Member);
    let (officers, members): (Vec<_>, Vec<_>) = named.into_iter().partition(|(_, roles)| is_officer(roles));
    let has_steward = officers.iter().any(|(_, roles)| roles.contains(&Role::HealthSteward));
    let steps = if reader.is_secretary() {
        steps(ctx, &reader, !rules.is_empty(), has_steward).await?
    } else {
        Vec::new()
    };
    let told = |(name, roles): (String, Vec<Role>)| Named { name, roles: offices(roles) };
    let open = steps.iter().filter(|step| !step.done).count();
    Ok(ClubPage {
        page: Page::of(ctx, session, reader.club.name.clone(), HERE),
        lead: lead(officers.len() + members.len(), &reader, open),
        said,
        errors: came_back.map(|(_, problem)| FormErrors::of("Not done", problem)),
        href: reader.href(),
        steps: if open == 0 { Vec::new() } else { steps },
        officers: officers.into_iter().map(told).collect(),
        members: members.into_iter().map(told).collect(),
        rule: rule_sentence(in_force, rules.last(), now),
        facts: facts(&rule.unwrap_or_else(Rule::shipped)),
        adopt: reader.is_secretary().then(|| {
            let (typed, problem) = came_back.map_or(("", None), |(typed, problem)| (typed, Some(problem)));
            Field::new("min_days", "Days of quarantine")
                .hint("Whole days of 24 hours; the other figures are those shown above, and can be changed by the API.")
                .typed(typed, problem)
        }),
        factor: FactorPart::of(ctx, session, &reader).await?,
        ways: ways(&reader),
    })
}

fn lead(people: usize, reader: &Reader, open: usize) -> String {
    let many = if people == 1 {
        "One person signs in here.".into()
    } else {
        format!("{people} people sign in here.")
    };
    match open {
        0 => format!("{many} You are {}.", offices(reader.roles.iter().copied()).to_lowercase()),
        1 => format!("{many} One step is left to begin with."),
        open => format!("{many} {open} of 5 steps are left to begin with."),
    }
}

fn ways(reader: &Reader) -> Vec<Link> {
    let mut ways = Vec::new();
    if reader.reads_the_list() {
        ways.push(Link { href: format!("{}/people", reader.href()), words: "People of the club".into() });
    }
    if reader.is_secretary() {
        ways.push(Link { href: format!("{}/audit", reader.href()), words: "What was done".into() });
    }
    ways
}

async fn steps(ctx: &Ctx, reader: &Reader, has_rule: bool, has_steward: bool) -> Result<Vec<Step>> {
    let (conn, club) = (&ctx.db.conn, reader.club.id);
    let people = store::list(conn, club).await?;
    let invited = !actions::open_invitations(ctx, club).await?.is_empty();
    let others = people.iter().filter(|person| person.account.is_some()).count() > 1;
    let to = |page: &str, words: &str| {
        Some(Link { href: format!("{}{page}", reader.href()), words: words.into() })
    };
    Ok(vec![
        Step {
            title: "Make the club and its first secretary",
            sentence: "You are here: that is done.",
            done: true,
            link: None,
        },
        Step {
            title: "Adopt the quarantine rule",
            sentence: "How many days bought and swapped fish are held before they may leave a member’s room.",
            done: has_rule,
            link: to("#adopt", "To the rule"),
        },
        Step {
            title: "Put your members on the list",
            sentence: "Out of a sheet that you have, or one by one. Nobody needs a login to stand there.",
            done: people.len() > 1,
            link: to("/people/sheet", "Take a sheet"),
        },
        Step {
            title: "Invite them",
            sentence: "Each gets a link of their own, by mail if this server sends mail.",
            done: invited || others,
            link: to("/people", "To the people"),
        },
        Step {
            title: "Name a health steward",
            sentence: "Quarantine ends by a second person: without a steward nobody can sign off.",
            done: has_steward,
            link: to("/people", "To the people"),
        },
    ])
}

fn rule_sentence(
    in_force: Option<&crate::entities::club_rules::Model>,
    last: Option<&crate::entities::club_rules::Model>,
    now: i64,
) -> String {
    let coming = last.filter(|rule| rule.from_ms > now).map_or_else(String::new, |rule| {
        format!(" Version {} is in force from {}.", rule.version, day_and_time(rule.from_ms))
    });
    match in_force {
        Some(rule) => {
            format!("Version {}, in force since {}.{coming}", rule.version, day_and_time(rule.from_ms))
        }
        None => format!("The club has adopted none; the one that comes with Tarn holds.{coming}"),
    }
}

fn facts(rule: &Rule) -> Vec<Fact> {
    let days = |n: u16| if n == 1 { "1\u{a0}day".to_owned() } else { format!("{n}\u{a0}days") };
    let fact = |name: &str, value: String| Fact { name: name.into(), value: Words::plain(value) };
    let mut all = vec![fact("Held for", days(rule.min_days.0))];
    all.extend(rule.days_from.iter().map(|(from, n)| fact(&format!("From {from}"), days(n.0))));
    all.extend(rule.days_of.iter().map(|(of, n)| fact(of, days(n.0))));
    all.push(fact("Looked at every", days(rule.observe_every_days.0)));
    all.push(fact(
        "A later arrival",
        match rule.shared_water {
            tarn_domain::clubs::SharedWater::Restart => "begins the days of all in its water again".into(),
            tarn_domain::clubs::SharedWater::WaitForLast => "makes all in its water wait for it".into(),
        },
    ));
    all.push(fact("Water stays the unit’s for", days(rule.water_days.0)));
    all
}

#[derive(Deserialize)]
struct NewRule {
    #[serde(default)]
    min_days: String,
}

/// Adopts the rule in force with other days.
#[post("/clubs/{club}/rule")]
pub async fn adopt(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<Uuid>,
    form: Form<NewRule>,
) -> Result<HttpResponse> {
    let reader = Reader::secretary(&ctx, &session, *path).await?;
    let typed = form.fields.min_days.trim();
    let done = match typed.parse::<u16>() {
        Ok(days) if (1..=365).contains(&days) => {
            let row = store::rule_in_force(&ctx.db.conn, *path, ctx.clock.now_ms()).await?;
            let old = row.and_then(|row| serde_json::from_str(&row.rule).ok());
            let rule =
                Rule { min_days: tarn_domain::streams::Days(days), ..old.unwrap_or_else(Rule::shipped) };
            actions::adopt_rule(&ctx, &session.who.actor(), *path, &rule, None).await.map(drop)
        }
        _ => {
            let why = "Days of quarantine are a number from 1 to 365.";
            Err(Problem::new(&crate::platform::errors::INVALID).detail(why).at("/min_days", why))
        }
    };
    match done {
        Ok(()) => Ok(see_other(&format!("{}?adopted=1", reader.href()))),
        Err(problem) => came_back(&ctx, &session, *path, (typed, problem)).await,
    }
}

async fn came_back(
    ctx: &Ctx,
    session: &PageSession,
    club: Uuid,
    (typed, problem): (&str, Problem),
) -> Result<HttpResponse> {
    again(problem, async |problem| page(ctx, session, club, None, Some((typed, problem))).await).await
}

/// Leaves the club.
#[post("/clubs/{club}/leave")]
pub async fn leave(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<Uuid>,
    _form: Form<Pressed>,
) -> Result<HttpResponse> {
    match actions::leave(&ctx, &session.who.actor(), *path, session.who.account).await {
        Ok(()) => Ok(see_other(HERE)),
        Err(problem) => came_back(&ctx, &session, *path, ("", problem)).await,
    }
}
