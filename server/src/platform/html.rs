//! What every page shares: its head, its menu, the fields of a form, and how a template becomes an answer.
//!
//! Which page says what stands in the areas' `pages.rs`.

use actix_web::http::StatusCode;
use actix_web::http::header::{self, ContentType};
use actix_web::{HttpRequest, HttpResponse, ResponseError};

use super::auth::{PageSession, Visitor};
use super::ctx::Ctx;
use super::errors::{Problem, Result};
use super::menu::MenuEntry;
use super::seal;
use super::words::Words;

/// What `layout.html` shows on every page.
#[derive(Clone, Debug, Default)]
pub struct Page {
    /// The title.
    pub title: String,
    /// Where one is, beside the word *Tarn*.
    pub place: String,
    /// The menu.
    pub menu: Vec<MenuEntry>,
    /// Whether somebody is signed in.
    pub signed_in: bool,
    /// What every form carries in its field `csrf`; empty without a session.
    pub csrf: String,
    /// Said on every page while the clock is shifted.
    pub clock_note: Option<String>,
}

impl Page {
    /// A page for anybody.
    pub fn plain(ctx: &Ctx, title: impl Into<String>) -> Self {
        let clock_note = ctx.clock.shift().map(|shift| format!("This server's clock is shifted by {shift}."));
        Self { title: title.into(), clock_note, ..Self::default() }
    }

    /// A page for somebody who is signed in; `here` is the part of the site whose entry in the menu is current.
    pub fn of(ctx: &Ctx, session: &PageSession, title: impl Into<String>, here: &str) -> Self {
        let entry = |entry: &MenuEntry| MenuEntry { current: entry.leads_into(here), ..entry.clone() };
        Self {
            menu: session.menu.iter().map(entry).collect(),
            signed_in: true,
            csrf: seal::form_token(&ctx.keys.cookie, session.who.session),
            place: session.shown_name.clone(),
            ..Self::plain(ctx, title)
        }
    }

    /// A page for whoever it is.
    pub fn for_visitor(ctx: &Ctx, visitor: &Visitor, title: impl Into<String>) -> Self {
        match &visitor.0 {
            Some(session) => Self::of(ctx, session, title, ""),
            None => Self::plain(ctx, title),
        }
    }

    /// Says where one is.
    pub fn at(mut self, place: impl Into<String>) -> Self {
        self.place = place.into();
        self
    }
}

/// A field of a form.
#[derive(Clone, Debug, Default)]
pub struct Field {
    /// Its name, and its id on the page.
    pub name: &'static str,
    /// What stands above it.
    pub label: &'static str,
    /// What helps to fill it.
    pub hint: Option<Words>,
    /// What is wrong with what was typed.
    pub error: Option<String>,
    /// Whether it may not stay empty.
    pub required: bool,
    /// What was typed.
    pub value: String,
}

impl Field {
    /// A field that must be filled.
    pub fn new(name: &'static str, label: &'static str) -> Self {
        Self { name, label, required: true, ..Self::default() }
    }

    /// With what helps to fill it.
    pub fn hint(mut self, hint: impl Into<Words>) -> Self {
        self.hint = Some(hint.into());
        self
    }

    /// With what was typed, and what the problem says about it.
    pub fn typed(mut self, value: impl Into<String>, problem: Option<&Problem>) -> Self {
        self.value = value.into();
        let pointer = format!("/{}", self.name);
        let fault = problem.and_then(|p| {
            p.faults().into_iter().find(|(at, _)| *at == pointer).map(|(_, why)| why.to_owned())
        });
        self.error = fault;
        self
    }
}

/// The list atop a form that came back.
#[derive(Clone, Debug)]
pub struct FormErrors {
    /// What was not done, and why.
    pub title: String,
    /// A link to each field that is wrong.
    pub links: Vec<Link>,
}

impl FormErrors {
    /// Of a problem: `not` says what was not done.
    pub fn of(not: &str, problem: &Problem) -> Self {
        let link = |(at, why): (&str, &str)| Link {
            href: format!("#{}", at.trim_start_matches('/')),
            words: why.to_owned(),
        };
        let mut why = problem.short().chars();
        let why: String = why.next().into_iter().flat_map(char::to_uppercase).chain(why).collect();
        Self { title: format!("{not}. {why}"), links: problem.faults().into_iter().map(link).collect() }
    }
}

/// A link and its words.
#[derive(Clone, Debug)]
pub struct Link {
    /// Where it leads.
    pub href: String,
    /// Its words.
    pub words: String,
}

/// A template as an answer.
pub fn render(template: &impl askama::Template) -> Result<HttpResponse> {
    render_as(StatusCode::OK, template)
}

/// A template as an answer with this status.
pub fn render_as(status: StatusCode, template: &impl askama::Template) -> Result<HttpResponse> {
    let body = template.render().map_err(|err| Problem::failed("a page", err))?;
    Ok(HttpResponse::build(status)
        .content_type(ContentType::html())
        .insert_header((header::CACHE_CONTROL, "no-store"))
        .body(body))
}

/// A page with what was refused on it, under the status of the refusal.
pub fn render_refused(problem: &Problem, template: &impl askama::Template) -> Result<HttpResponse> {
    render_as(problem.status_code(), template)
}

/// To another page, after a form was taken.
pub fn see_other(to: &str) -> HttpResponse {
    HttpResponse::SeeOther().insert_header((header::LOCATION, to)).finish()
}

/// An address on this site, or none: what comes from outside must not lead elsewhere.
pub fn local_path(text: &str) -> Option<&str> {
    let plain = text.starts_with('/') && !text.starts_with("//") && !text.contains(['\\', '\r', '\n', '\t']);
    plain.then_some(text)
}

/// A text as a value in an address.
pub fn encoded(text: &str) -> String {
    let plain = |b: u8| b.is_ascii_alphanumeric() || b"/-._~".contains(&b);
    text.bytes().map(|b| if plain(b) { char::from(b).to_string() } else { format!("%{b:02X}") }).collect()
}

/// "Mon 25 May 2026, 18:40 UTC".
pub fn day_and_time(ms: i64) -> String {
    let moment = chrono::DateTime::from_timestamp_millis(ms).unwrap_or_default();
    moment.format("%a %-d %b %Y, %H:%M UTC").to_string()
}

/// "2026-05-25T18:40:00Z".
pub fn rfc3339(ms: i64) -> String {
    let moment = chrono::DateTime::from_timestamp_millis(ms).unwrap_or_default();
    moment.to_rfc3339_opts(chrono::SecondsFormat::Secs, true)
}

/// A time as [`rfc3339`] writes it, or with a zone, in milliseconds.
pub fn rfc3339_ms(text: &str) -> Option<i64> {
    Some(chrono::DateTime::parse_from_rfc3339(text.trim()).ok()?.timestamp_millis())
}

/// Whether the caller reads pages rather than JSON.
pub fn wants_html(req: &HttpRequest) -> bool {
    if req.path().starts_with("/api/") {
        return false;
    }
    let accept = req.headers().get(header::ACCEPT).and_then(|v| v.to_str().ok()).unwrap_or("");
    let first = |kind: &str| accept.find(kind).unwrap_or(usize::MAX);
    first("text/html") < first("json")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_addresses_of_this_site_are_followed() {
        assert_eq!(local_path("/rooms?x=1"), Some("/rooms?x=1"));
        for foreign in
            ["", "rooms", "//evil.example", "/\\evil.example", "https://evil.example", "/\t/evil.example"]
        {
            assert_eq!(local_path(foreign), None, "{foreign}");
        }
    }
}
